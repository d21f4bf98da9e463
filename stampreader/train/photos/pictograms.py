"""Own drawings of the direction pictograms, as strokes and filled areas.

A drawing lies in a box of height 1 (y upwards, centre at the origin) with the connector's long
axis along x; `upright` turns it by a quarter. Families differ between the sets of photos.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

Polyline = list[tuple[float, float]]


@dataclass
class Drawing:
    """Strokes (open polylines), filled areas, and areas cut out of the fill."""

    strokes: list[Polyline] = field(default_factory=list)
    fills: list[Polyline] = field(default_factory=list)
    cuts: list[Polyline] = field(default_factory=list)
    width: float = 1.0
    height: float = 1.0

    def turned(self) -> Drawing:
        """A quarter turn to the left, for outlines standing upright."""

        def turn(lines: list[Polyline]) -> list[Polyline]:
            return [[(-y, x) for x, y in line] for line in lines]

        return Drawing(
            turn(self.strokes), turn(self.fills), turn(self.cuts), self.height, self.width
        )

    def scaled(self, k: float) -> Drawing:
        """The drawing k times as large."""

        def grow(lines: list[Polyline]) -> list[Polyline]:
            return [[(k * x, k * y) for x, y in line] for line in lines]

        return Drawing(
            grow(self.strokes), grow(self.fills), grow(self.cuts), k * self.width, k * self.height
        )


def arc(cx: float, cy: float, r: float, a0: float, a1: float, n: int = 14) -> Polyline:
    """Points on an arc, degrees."""
    t = np.radians(np.linspace(a0, a1, n))
    return [(cx + r * float(np.cos(a)), cy + r * float(np.sin(a))) for a in t]


def head(x: float, y: float, dx: float, dy: float, size: float) -> Polyline:
    """A filled arrow head with its tip at (x, y), pointing along (dx, dy)."""
    bx, by = x - dx * size, y - dy * size
    px, py = -dy * size * 0.55, dx * size * 0.55
    return [(x, y), (bx + px, by + py), (bx - px, by - py)]


def barbs(x: float, y: float, dx: float, dy: float, size: float) -> Polyline:
    """An open arrow head (two strokes) with its tip at (x, y)."""
    bx, by = x - dx * size, y - dy * size
    px, py = -dy * size * 0.7, dx * size * 0.7
    return [(bx + px, by + py), (x, y), (bx - px, by - py)]


def double_arrow(
    drawing: Drawing, length: float, along: bool, filled: bool, size: float, cut: bool = False
) -> None:
    """Add a double arrow through the origin."""
    dx, dy = (1.0, 0.0) if along else (0.0, 1.0)
    half = length / 2
    shaft = [(-dx * half, -dy * half), (dx * half, dy * half)]
    for sign in (1, -1):
        tip = (sign * dx * half, sign * dy * half, sign * dx, sign * dy, size)
        if cut:
            drawing.cuts.append(head(*tip))
        elif filled:
            drawing.fills.append(head(*tip))
        else:
            drawing.strokes.append(barbs(*tip))
    if cut:
        w = size * 0.2
        drawing.cuts.append(
            [
                (shaft[0][0] - w * dy, shaft[0][1] - w * dx),
                (shaft[1][0] - w * dy, shaft[1][1] - w * dx),
                (shaft[1][0] + w * dy, shaft[1][1] + w * dx),
                (shaft[0][0] + w * dy, shaft[0][1] + w * dx),
            ]
        )
    else:
        drawing.strokes.append(shaft)


def pulls(drawing: Drawing, half: float, length: float, along: bool, size: float) -> None:
    """Add two arrows outside the outline, pulling away from it."""
    dx, dy = (1.0, 0.0) if along else (0.0, 1.0)
    for sign in (1, -1):
        end = half + length
        drawing.strokes.append(
            [(sign * dx * half, sign * dy * half), (sign * dx * end, sign * dy * end)]
        )
        drawing.fills.append(head(sign * dx * end, sign * dy * end, sign * dx, sign * dy, size))


def _stadium(long: float, short: float) -> tuple[Polyline, tuple[float, float]]:
    """Outline without its gate: the lower side between the two gate ends is missing."""
    r, x = short / 2, (long - short) / 2
    gate = x * 0.85
    line = [(-gate, -r), (-x, -r), *arc(-x, 0, r, 270, 90), *arc(x, 0, r, 90, -90), (gate, -r)]
    return line, (gate, -r)


def _dee(long: float, short: float) -> tuple[Polyline, tuple[float, float]]:
    r = short * 0.32
    x, y = long / 2, short / 2
    line = [
        (-x * 0.55, -y),
        (-x * 0.62, -y),
        *arc(-x * 0.62, -y + r, r, 270, 180, 6),
        *arc(-x + r, y - r, r, 180, 90, 7),
        *arc(x - r, y - r, r, 90, 0, 7),
        *arc(x * 0.62, -y + r, r, 0, -90, 6),
        (x * 0.55, -y),
    ]
    return line, (x * 0.55, -y)


def _egg(long: float, short: float) -> tuple[Polyline, tuple[float, float]]:
    r0, r1 = short * 0.5, short * 0.3
    x = long / 2
    line = [
        (-x * 0.4, -r0 * 0.98),
        *arc(-x + r0, 0, r0, 262, 98, 14),
        *arc(x - r1, r0 - r1 - short * 0.06, r1, 80, 0, 7),
        *arc(x - r1, -r0 + r1 + short * 0.1, r1, 0, -80, 7),
        (x * 0.5, -short * 0.45),
    ]
    return line, (x * 0.5, -short * 0.45)


def _bent(long: float, short: float) -> tuple[Polyline, tuple[float, float]]:
    x, y = long / 2, short / 2
    line = [(-x * 0.5, -y * 0.9), (-x * 0.8, -y), (-x, -y * 0.4), (-x, y * 0.5), (-x * 0.7, y)]
    line += [(x * 0.7, y), (x, y * 0.5), (x, -y * 0.4), (x * 0.8, -y), (x * 0.5, -y * 0.9)]
    return line, (x * 0.5, -y * 0.9)


OUTLINES = {"stadium": _stadium, "dee": _dee, "egg": _egg, "bent": _bent}


@dataclass(frozen=True)
class Family:
    """How one maker draws: outline, arrows, proportions, filled or stroke, upright or lying."""

    name: str
    outline: str
    arrows: str  # inside, outside, cut (silhouette with arrows cut out), bare
    long: float = 1.7
    filled_heads: bool = True
    swing: float = 38.0  # how far the gate stands open, degrees, inwards
    open_arrow: bool = True  # the gate-open drawing also has the arrow along
    open_alone: str = "dee"  # outline of the gate-open drawing where arrows are bare


FAMILIES = (
    Family("link-in", "stadium", "inside", 1.8),
    Family("dee-out", "dee", "outside", 1.55, swing=45),
    Family("egg-cut", "egg", "cut", 1.75, swing=30),
    Family("bars", "stadium", "bare", 1.5, open_arrow=False),
    Family("dee-in", "dee", "inside", 1.9, filled_heads=False, swing=50),
    Family("egg-out", "egg", "outside", 1.5, filled_heads=False),
    Family("bent-in", "bent", "inside", 1.6, swing=28),
    Family("bars-slim", "dee", "bare", 1.9, filled_heads=False),
    Family("link-cut", "stadium", "cut", 1.6, swing=42),
    Family("bent-out", "bent", "outside", 1.7, filled_heads=False, swing=55, open_arrow=False),
    Family("egg-in", "egg", "inside", 1.65, swing=34, open_arrow=False),
)

OF_KIND = {
    "test": ("link-in", "dee-out", "egg-cut", "bars", "dee-in", "egg-out", "bars-slim"),
    "tuning": ("link-in", "dee-out", "bars", "egg-cut", "bent-in"),
    "calibration": ("dee-in", "bars", "egg-out", "link-cut", "bent-out", "egg-in", "dee-out"),
    "stack": ("link-in", "dee-out", "bars", "egg-cut", "bent-in"),
    "delivery": ("link-in", "dee-out", "dee-in", "egg-out"),
}


def families(kind: str) -> list[Family]:
    """The families a kind of set draws from; each set has some of its own."""
    return [f for f in FAMILIES if f.name in OF_KIND[kind]]


def glyph_name(family: Family, slot: str) -> str:
    """The glyph class of a drawing, as in `words.PICTOGRAMS`."""
    if family.arrows == "bare":
        return {"closed": "<along>", "cross": "<across>", "open": "<open>"}[slot]
    return f"<{slot}>"


def draw(family: Family, slot: str, upright: bool = False) -> Drawing:
    """The drawing for one slot, about 1 high (or 1 wide when upright)."""
    if family.arrows == "bare" and slot != "open":
        bare = Drawing(width=1.3 if slot == "closed" else 0.5)
        length = 1.25 if slot == "closed" else 1.0
        double_arrow(bare, length, slot == "closed", family.filled_heads, 0.34)
        return bare
    drawing = _connector(family, slot)
    return drawing.turned().scaled(1.35 / drawing.width) if upright else drawing


def _connector(family: Family, slot: str) -> Drawing:
    outside = family.arrows == "outside"
    short = 0.62 if outside and slot == "cross" else 1.0
    long = family.long * (0.72 if outside else 1.0)
    drawing = Drawing(width=family.long if slot != "cross" or not outside else long * 0.75)
    long = long * 0.75 if outside and slot == "cross" else long
    short = 0.8 if outside and slot != "cross" else short
    outline = family.open_alone if family.arrows == "bare" else family.outline
    body, gate = OUTLINES[outline](long, short)
    _add_gate(drawing, body, gate, family, slot)
    _add_arrows(drawing, family, slot, long, short)
    return drawing


def _add_gate(
    drawing: Drawing, body: Polyline, gate: tuple[float, float], family: Family, slot: str
) -> None:
    start = (body[0][0], body[0][1])
    if slot == "open":
        length = (gate[0] - start[0]) * 0.92
        a = np.radians(family.swing)
        tip = (start[0] + length * float(np.cos(a)), start[1] + length * float(np.sin(a)))
        drawing.strokes += [body, [start, tip]]
    elif family.arrows == "cut":
        drawing.fills.append([*body, start])
    else:
        drawing.strokes += [[*body, start]]


def _add_arrows(drawing: Drawing, family: Family, slot: str, long: float, short: float) -> None:
    along = slot != "cross"
    if slot == "open" and not family.open_arrow:
        return
    if family.arrows == "outside":
        half = (long if along else short) / 2
        pulls(drawing, half, 0.22, along, 0.17)
    elif slot == "open":
        if family.arrows != "bare":
            # above the swung gate, close to the spine side of the outline
            shifted = Drawing()
            double_arrow(shifted, long * 0.6, True, family.filled_heads, 0.18)
            drawing.strokes += [[(x, y + short * 0.24) for x, y in s] for s in shifted.strokes]
            drawing.fills += [[(x, y + short * 0.24) for x, y in s] for s in shifted.fills]
    else:
        length = long * 0.66 if along else short * 0.72
        cut = family.arrows == "cut"
        double_arrow(drawing, length, along, family.filled_heads, 0.22, cut=cut)

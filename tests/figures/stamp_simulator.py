"""Random stamps as glyphs, and a model of how readers fail; for tests only, nothing is shipped.

Layouts, decoys and error rates are our own guesses of what stamps look like (common practice, no
source); they try the assembly, they prove nothing about photos.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from decimal import Decimal

import numpy as np

from stampreader.figures.direction import UPSIDE_DOWN
from stampreader.words import SLOTS, Glyph, Slot

SIZE = (4000, 3000)
SIGNS = {Slot.CLOSED: "<closed>", Slot.CROSS: "<cross>", Slot.OPEN: "<open>"}
ARROWS = {Slot.CLOSED: "<along>", Slot.CROSS: "<across>", Slot.OPEN: "<open>"}
CONFUSED = {
    "0": "O8D6", "1": "I74", "2": "Z7", "3": "895", "4": "1A9", "5": "S63", "6": "58G", "7": "12T",
    "8": "B36", "9": "437", "K": "XRH", "N": "HMW", "C": "GO", "E": "FB", ".": "-",
    "<closed>": ("<cross>", "<along>"), "<cross>": ("<closed>", "<open>"),
    "<open>": ("<closed>", "<cross>"), "<along>": ("<across>", "-"), "<across>": ("<along>", "-"),
}  # fmt: skip
SAME_UPSIDE_DOWN = frozenset(c for c, d in UPSIDE_DOWN.items())


@dataclass
class Item:
    """One glyph of a layout in the stamp's own frame, in heights."""

    char: str
    along: float
    down: float
    width: float
    height: float
    slot: Slot | None = None
    turn_deg: float = 0.0


@dataclass
class Scene:
    """A photo: what is stamped on each connector, and the glyphs a perfect reader would see."""

    layout: str
    truths: list[dict[Slot, Decimal]] = field(default_factory=list)
    texts: list[list[str]] = field(default_factory=list)
    linked: bool = True
    glyphs: list[Glyph] = field(default_factory=list)
    owners: list[int] = field(default_factory=list)


@dataclass(frozen=True)
class Noise:
    """Rates of a reader's failures, per glyph unless said otherwise."""

    miss: float = 0.03
    wrong: float = 0.03
    extra: float = 0.02
    double: float = 0.01
    jitter: float = 0.04
    tilt_deg: float = 5.0
    flip_same: float = 0.15
    flip_other: float = 0.02
    role_wrong: float = 0.03
    confident: float = 0.3  # share of wrong glyphs given with high confidence
    blind: float = 0.0  # a whole stamp not seen
    roles: bool = True


PERFECT = Noise(0, 0, 0, 0, 0, 0, 0, 0, 0)


@dataclass
class Style:
    """How one maker stamps: font, spacing, pictograms."""

    digit: float
    space: float
    group: float
    sign_height: float
    sign_width: float
    sign_gap: float
    arrows: bool
    unit: str
    separator: str
    decimals: bool


def random_style(rng: np.random.Generator) -> Style:
    """A maker's habit."""
    sign = rng.uniform(0.9, 1.7)
    return Style(
        digit=rng.uniform(0.5, 0.72),
        space=rng.uniform(0.1, 0.22),
        group=rng.uniform(0.9, 1.8),
        sign_height=sign,
        sign_width=sign * rng.uniform(1.1, 2.2),
        sign_gap=rng.uniform(0.2, 0.5),
        arrows=rng.random() < 0.35,
        unit=str(rng.choice(["each", "each", "once", "never"])),
        separator=str(rng.choice(["", "", "/", "-"])),
        decimals=rng.random() < 0.25,
    )


def strengths(rng: np.random.Generator, style: Style) -> dict[Slot, Decimal]:
    """Three figures as connectors carry them."""

    def half() -> Decimal:
        return Decimal("0.5") if style.decimals and rng.random() < 0.6 else Decimal(0)

    return {
        Slot.CLOSED: Decimal(int(rng.integers(18, 46))) + half(),
        Slot.CROSS: Decimal(int(rng.integers(7, 17))) + half(),
        Slot.OPEN: Decimal(int(rng.integers(5, 13))) + half(),
    }


class Pen:
    """Puts items one after another on lines."""

    def __init__(self, style: Style) -> None:
        self.style = style
        self.items: list[Item] = []
        self.along = 0.0
        self.down = 0.0

    def text(self, text: str, slot: Slot | None = None, height: float = 1.0) -> tuple[float, float]:
        """Writes text; gives where it began and ended."""
        start = self.along
        for char in text:
            if char == " ":
                self.along += self.style.group * 0.6 * height
                continue
            width = {".": 0.2, "I": 0.25, "1": 0.4, "-": 0.4, ":": 0.2, "M": 0.9, "W": 0.95}.get(
                char, self.style.digit
            ) * height
            drop = 0.42 * height if char == "." else 0.0
            tall = {".": 1.0, "-": 1.0}.get(char, 1.0) * height
            slot_here = slot if char.isdigit() or char == "." else None
            self.items.append(
                Item(
                    char.upper() if char in "k" else char,
                    self.along + width / 2,
                    self.down + drop,
                    width,
                    tall,
                    slot_here,
                )
            )
            self.along += width + self.style.space * height
        return start, self.along

    def sign(self, slot: Slot, along: float | None = None, down: float = 0.0) -> None:
        """Draws a slot's pictogram here, or centred above or below."""
        name = (ARROWS if self.style.arrows else SIGNS)[slot]
        wide = self.style.sign_width
        if along is None:
            self.items.append(
                Item(name, self.along + wide / 2, self.down, wide, self.style.sign_height, slot)
            )
            self.along += wide
        else:
            self.items.append(
                Item(name, along, self.down + down, wide, self.style.sign_height, slot)
            )

    def gap(self, heights: float) -> None:
        """Leaves space."""
        self.along += heights

    def line(self, leading: float = 1.6) -> None:
        """Begins a new line."""
        self.along = 0.0
        self.down += leading


def written(kN: Decimal) -> str:
    """A figure as stamped."""
    return str(kN)


def _order(rng: np.random.Generator) -> list[Slot]:
    return list(SLOTS) if rng.random() < 0.75 else [Slot.CLOSED, Slot.OPEN, Slot.CROSS]


def _number(pen: Pen, slot: Slot, kN: Decimal, last: bool) -> tuple[float, float]:
    start, _ = pen.text(written(kN), slot)
    end = pen.along
    if pen.style.unit == "each" or (pen.style.unit == "once" and last):
        pen.gap(0.15)
        pen.text("kN")
    return start, end


def lay_before(rng, pen, figures):
    """Pictogram before each figure, on one line or on two."""
    order = _order(rng)
    two = rng.random() < 0.35
    for k, slot in enumerate(order):
        pen.sign(slot)
        pen.gap(pen.style.sign_gap)
        _number(pen, slot, figures[slot], k == 2)
        if two and k == 0:
            pen.line(max(1.5, pen.style.sign_height * 1.25))
        else:
            pen.gap(pen.style.group)


def lay_after(rng, pen, figures):
    """Pictogram behind each figure."""
    order = _order(rng)
    for k, slot in enumerate(order):
        _number(pen, slot, figures[slot], k == 2)
        pen.gap(pen.style.sign_gap)
        pen.sign(slot)
        pen.gap(pen.style.group + 0.2)


def lay_column(rng, pen, figures):
    """One figure a line, pictogram before it."""
    for slot in _order(rng):
        pen.sign(slot)
        pen.gap(pen.style.sign_gap)
        _number(pen, slot, figures[slot], True)
        pen.line(max(1.5, pen.style.sign_height * 1.2))


def _stacked(rng, pen, figures, side):
    for k, slot in enumerate(_order(rng)):
        start, end = _number(pen, slot, figures[slot], k == 2)
        pen.sign(
            slot,
            (start + end) / 2,
            side * (0.5 + pen.style.sign_height / 2 + rng.uniform(0.2, 0.5)),
        )
        pen.along = max(pen.along, (start + end) / 2 + pen.style.sign_width / 2) + max(
            pen.style.group, 0.6 + pen.style.sign_width / 2
        )


def lay_above(rng, pen, figures):
    """Pictogram above each figure."""
    _stacked(rng, pen, figures, -1)


def lay_below(rng, pen, figures):
    """Pictogram below each figure."""
    _stacked(rng, pen, figures, 1)


def lay_set(rng, pen, figures):
    """All pictograms, then the figures with separators."""
    order = _order(rng)
    for slot in order:
        pen.sign(slot)
        pen.gap(0.35)
    pen.gap(pen.style.group)
    separator = pen.style.separator or "/"
    for k, slot in enumerate(order):
        pen.text(written(figures[slot]), slot)
        if k < 2:
            pen.text(separator)
    pen.gap(0.2)
    pen.text("kN")


def lay_bare(rng, pen, figures):
    """Figures without pictograms: nothing may be sure."""
    separator = pen.style.separator
    for k, slot in enumerate(SLOTS):
        pen.text(written(figures[slot]), slot)
        if pen.style.unit == "each":
            pen.text("kN")
        if k < 2:
            pen.text(separator) if separator else pen.gap(pen.style.group)
    if pen.style.unit == "once":
        pen.gap(0.2)
        pen.text("kN")


LAYOUTS = {
    "before": lay_before, "after": lay_after, "column": lay_column, "above": lay_above,
    "below": lay_below, "set": lay_set, "bare": lay_bare,
}  # fmt: skip

DECOYS = (
    "CE {body}",
    "CE{body}",
    "EN 362:2004/B",
    "EN 12275",
    "UIAA",
    "GATE 16 kN",
    "{year}",
    "0{month}/{year}",
    "{serial}",
    "LOT {lot}",
    "NFPA 2500 T",
    "EN362",
    "WLL 5 kN",
    "SN {serial}",
    "ANSI Z359.12",
    "ALU",
    "{lot}",
)


def decoy(rng: np.random.Generator) -> str:
    """Something stamped that is no figure."""
    text = str(rng.choice(DECOYS))
    return text.format(
        body=9000 + int(rng.integers(0, 1000)),
        year=int(rng.integers(2009, 2026)),
        month=int(rng.integers(1, 10)),
        serial=int(rng.integers(100000, 9999999)),
        lot=int(rng.integers(1000, 99999)),
    )


def add_decoys(rng: np.random.Generator, pen: Pen) -> list[str]:
    """Marks, years and serials round the figures; gives what was written."""
    texts = []
    for _ in range(int(rng.integers(0, 4))):
        where = rng.random()
        top = min((i.down - i.height / 2 for i in pen.items), default=0.0)
        bottom = max((i.down + i.height / 2 for i in pen.items), default=0.0)
        right = max((i.along + i.width / 2 for i in pen.items), default=0.0)
        size = rng.uniform(0.7, 1.15)
        if where < 0.4:
            pen.down, pen.along = bottom + 0.5 * size + rng.uniform(0.3, 1.0), rng.uniform(0, 4)
        elif where < 0.7:
            pen.down, pen.along = top - 0.5 * size - rng.uniform(0.3, 1.0), rng.uniform(0, 4)
        else:
            pen.down, pen.along = (
                pen.items[0].down if pen.items else 0.0,
                right + rng.uniform(1.2, 3),
            )
        texts.append(decoy(rng))
        pen.text(texts[-1], height=size)
    return texts


def _bend(items: list[Item], radius: float) -> None:
    """Puts a straight layout on an arc, heads outwards for a positive radius."""
    middle = sum(i.along for i in items) / len(items)
    for item in items:
        turn = (item.along - middle) / radius
        away = radius - item.down
        item.along = middle + away * math.sin(turn)
        item.down = radius - away * math.cos(turn)
        item.turn_deg = math.degrees(turn)


def scene(
    rng: np.random.Generator, layout: str | None = None, connectors: int | None = None
) -> Scene:
    """A random photo with one to three connectors."""
    layout = layout or str(rng.choice(list(LAYOUTS), p=[0.3, 0.12, 0.15, 0.12, 0.08, 0.13, 0.1]))
    count = connectors or int(rng.choice([1, 1, 1, 1, 2, 3]))
    style = random_style(rng)
    out = Scene(layout, linked=layout != "bare")
    angle = rng.uniform(0, 360)
    height = rng.uniform(14, 45)
    spread = 0.0
    for k in range(count):
        pen = Pen(style)
        figures = strengths(rng, style)
        LAYOUTS[layout](rng, pen, figures)
        out.texts.append(add_decoys(rng, pen))
        if rng.random() < 0.25 and layout != "column":
            length = max(i.along for i in pen.items) - min(i.along for i in pen.items)
            _bend(pen.items, float(rng.choice([-1, 1])) * length / rng.uniform(0.3, 1.2))
        tall = max(i.down for i in pen.items) - min(i.down for i in pen.items)
        _place(
            rng,
            out,
            pen.items,
            k,
            angle + rng.normal(0, 4),
            height,
            spread - min(i.down for i in pen.items),
        )
        spread += tall + rng.uniform(9, 16)
        out.truths.append(figures)
    _centre(out)
    return out


def _place(
    rng, out: Scene, items: list[Item], owner: int, angle: float, height: float, down: float
) -> None:
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    for item in items:
        x, y = item.along * height, (item.down + down) * height
        role = [0.96, 0.01, 0.01, 0.01, 0.01]
        if item.slot is not None:
            k = 4 if not out.linked else 1 + SLOTS.index(item.slot)
            role = [0.01] * 5
            role[k] = 0.96
        voted = item.char.isdigit() or item.char.startswith("<")
        out.glyphs.append(
            Glyph(
                item.char,
                x * c - y * s,
                x * s + y * c,
                item.height * height,
                item.width * height,
                (angle + item.turn_deg) % 360.0,
                0.99,
                (),
                tuple(role) if voted else None,
            )
        )
        out.owners.append(owner)


def _centre(out: Scene) -> None:
    x = sum(g.x for g in out.glyphs) / len(out.glyphs)
    y = sum(g.y for g in out.glyphs) / len(out.glyphs)
    out.glyphs = [replace(g, x=g.x - x + SIZE[0] / 2, y=g.y - y + SIZE[1] / 2) for g in out.glyphs]


def seen(rng: np.random.Generator, glyphs: list[Glyph], noise: Noise) -> list[Glyph]:
    """What a reader with these failures sees."""
    if rng.random() < noise.blind:
        return []
    out = []
    for glyph in glyphs:
        if rng.random() < noise.miss:
            continue
        out.append(_noisy(rng, glyph, noise))
        if rng.random() < noise.double:
            out.append(_ghost(rng, glyph, 0.3))
        if rng.random() < noise.extra:
            out.append(_ghost(rng, glyph, 3.0))
    return out


def _noisy(rng: np.random.Generator, glyph: Glyph, noise: Noise) -> Glyph:
    char, confidence, others = glyph.char, float(rng.beta(40, 1)), ()
    if rng.random() < noise.wrong:
        char = str(rng.choice(list(CONFUSED.get(char, "IHT"))))
        confidence = float(
            rng.uniform(0.9, 0.99) if rng.random() < noise.confident else rng.uniform(0.3, 0.85)
        )
        others = ((glyph.char, (1 - confidence) * float(rng.uniform(0.3, 0.9))),)
    h = glyph.height_px
    flip = noise.flip_same if char in SAME_UPSIDE_DOWN else noise.flip_other
    turn = 180.0 if rng.random() < flip else 0.0
    role = glyph.role if noise.roles else None
    if role is not None and rng.random() < noise.role_wrong:
        role = tuple(float(v) for v in rng.dirichlet([0.5] * 5))
    if turn and char in "69" and rng.random() < 0.7:
        char = {"6": "9", "9": "6"}[char]
        confidence = min(confidence, float(rng.uniform(0.4, 0.9)))
    return replace(
        glyph,
        char=char,
        x=glyph.x + float(rng.normal(0, noise.jitter * h)),
        y=glyph.y + float(rng.normal(0, noise.jitter * h)),
        height_px=h * float(np.exp(rng.normal(0, noise.jitter))),
        width_px=glyph.width_px * float(np.exp(rng.normal(0, 1.5 * noise.jitter))),
        angle_deg=(glyph.angle_deg + turn + float(rng.normal(0, noise.tilt_deg))) % 360.0,
        confidence=confidence,
        alternatives=others,
        role=role,
    )


def _ghost(rng: np.random.Generator, glyph: Glyph, far: float) -> Glyph:
    """A glyph that is not there: a scratch, or a part of one taken for a whole."""
    reach = far * glyph.height_px
    return replace(
        glyph,
        char=str(rng.choice(list("1I7-C0TL."))),
        x=glyph.x + float(rng.uniform(-reach, reach)),
        y=glyph.y + float(rng.uniform(-reach, reach)),
        confidence=float(rng.uniform(0.13, 0.6)),
        angle_deg=float(rng.uniform(0, 360)),
        role=(0.9, 0.025, 0.025, 0.025, 0.025) if glyph.role else None,
        alternatives=(),
    )


SECOND = Noise(
    miss=0.03, wrong=0.03, extra=0.01, double=0.0, jitter=0.1, tilt_deg=2.0, flip_same=0.0,
    flip_other=0.0, blind=0.05, roles=False,
)  # fmt: skip


def second_reader(rng: np.random.Generator, scene_: Scene, noise: Noise = SECOND) -> list[Glyph]:
    """A reader of whole lines: sees a stamp or not, and seldom reads it upside down."""
    out: list[Glyph] = []
    for owner in range(len(scene_.truths)):
        own = [g for g, o in zip(scene_.glyphs, scene_.owners, strict=True) if o == owner]
        found = seen(rng, own, noise)
        if rng.random() < 0.02:
            found = [
                replace(
                    g, char=UPSIDE_DOWN.get(g.char, g.char), angle_deg=(g.angle_deg + 180) % 360
                )
                for g in found
            ]
        out += found
    return out

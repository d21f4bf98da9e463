"""Pictograms in many drawings: a connector loaded along, across or with its gate open.

A drawing is a list of shapes in units of its own height, centred on the origin, text running along
+x and up along +y. `fill` shapes are polygons; `line` shapes are polylines with a width.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

Array = np.ndarray


@dataclass(frozen=True)
class Shape:
    """One piece of a drawing: `points` (P, 2); `width` of the line, 0 for a filled polygon."""

    points: Array
    width: float = 0.0
    cut: bool = False  # taken out of what was drawn before


def _turn(points: Array, angle: float) -> Array:
    c, s = math.cos(angle), math.sin(angle)
    return points @ np.array([[c, s], [-s, c]])


def outline(rng: np.random.Generator, aspect: float) -> Array:
    """A closed connector contour, long axis along x, length 1, height 1/aspect, gate side at +y."""
    kind = rng.choice(
        ["oval", "d", "pear", "offset", "box", "ellipse", "stadium", "corners", "waist"]
    )
    if kind in ("stadium", "corners"):
        return _straight_sided(rng, 0.5 / aspect, kind == "corners")
    n = 40
    a = np.linspace(0, 2 * math.pi, n, endpoint=False)
    b = 0.5 / aspect
    power = {"oval": 3.5, "d": 3.0, "pear": 2.6, "offset": 3.0, "box": 7.0, "ellipse": 2.0,
             "waist": 4.0}[kind]  # fmt: skip
    x = np.sign(np.cos(a)) * np.abs(np.cos(a)) ** (2 / power) * 0.5
    y = np.sign(np.sin(a)) * np.abs(np.sin(a)) ** (2 / power) * b
    if kind == "d":
        y = np.where(y > 0, y * (1 - 0.5 * (2 * x) ** 2 * rng.uniform(0.4, 1)), y)
    if kind in ("pear", "offset"):
        y = y * (1 + rng.uniform(0.3, 0.55) * x * 2) / 1.3
    if kind == "waist":  # one long side, or both, drawn in
        sides = y > 0 if rng.random() < 0.6 else y == y
        y = np.where(
            sides, y * (1 - rng.uniform(0.15, 0.4) * np.cos(np.clip(x * 3.1, -1.6, 1.6))), y
        )
    points = np.stack([x, y], 1)
    return points * [1, rng.choice([-1, 1])] if rng.random() < 0.5 else points


def _straight_sided(rng: np.random.Generator, half: float, corners: bool) -> Array:
    """Two straight long sides joined by half circles, or by cut corners."""
    if corners:
        a, b = rng.uniform(0.25, 0.6) * half, rng.uniform(0.25, 0.6) * half
        quarter = np.array([[0.5, half - b], [0.5 - a, half]])
        half_ring = np.concatenate([quarter, quarter[::-1] * [-1, 1]])
        corner_points = np.concatenate([half_ring, -half_ring])
        return _filled_in(corner_points)
    a = np.linspace(-math.pi / 2, math.pi / 2, 14)
    cap = np.stack([0.5 - half + np.cos(a) * half, np.sin(a) * half], 1)
    return _filled_in(np.concatenate([cap, -cap]))


def _filled_in(corners: Array, apart: float = 0.03) -> Array:
    """A closed contour with points at equal distances, so that a gap can be cut anywhere."""
    ring = np.concatenate([corners, corners[:1]])
    length = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))])
    at = np.linspace(0, length[-1], max(round(length[-1] / apart), 24), endpoint=False)
    return np.stack([np.interp(at, length, ring[:, i]) for i in (0, 1)], 1)


def arrow(
    rng: np.random.Generator, start: Array, end: Array, style: dict[str, float]
) -> list[Shape]:
    """An arrow from start to end; `style` keeps all arrows of one drawing alike."""
    way = end - start
    length = float(np.hypot(*way)) + 1e-6
    way = way / length
    side = np.array([-way[1], way[0]])
    head = min(style["head"], 0.9 * length)
    half = head * style["spread"]
    neck = end - way * head
    shapes = [Shape(np.stack([start, neck if style["solid"] else end]), style["width"])]
    if style["stub"]:  # heads alone, on what they start from
        return [Shape(np.stack([start + way * head, start + side * half, start - side * half]))]
    if style["solid"]:
        shapes.append(Shape(np.stack([end, neck + side * half, neck - side * half])))
    else:
        shapes.append(
            Shape(np.stack([neck + side * half, end, neck - side * half]), style["width"])
        )
    return shapes


def arrow_pair(
    rng: np.random.Generator, axis: Array, inner: float, outer: float, style: dict[str, float]
) -> list[Shape]:
    """Two arrows on one axis: pointing away from the middle, or one line with two heads."""
    shapes = arrow(rng, axis * inner, axis * outer, style)
    return shapes + arrow(rng, -axis * inner, -axis * outer, style)


def _gate_open(rng: np.random.Generator, ring: Array, width: float) -> list[Shape]:
    """The contour with a gap on one long side and the gate swung in or out."""
    aspect_half = float(np.abs(ring[:, 1]).max())
    side = rng.choice([-1, 1])
    left, right = sorted(rng.uniform([-0.38, 0.12], [-0.12, 0.38]))
    gap = (ring[:, 1] * side > aspect_half * 0.3) & (ring[:, 0] > left) & (ring[:, 0] < right)
    if not gap.any() or gap.all():
        return [Shape(np.concatenate([ring, ring[:1]]), width)]
    first = int(np.flatnonzero(~gap & np.roll(gap, 1))[0])
    rolled = np.roll(ring, -first, 0)
    kept = rolled[~np.roll(gap, -first)]
    shapes = [Shape(kept, width)]
    hinge_at_start = rng.random() < 0.5
    hinge = kept[0] if hinge_at_start else kept[-1]
    other = kept[-1] if hinge_at_start else kept[0]
    swing = rng.uniform(0.3, 1.1) * rng.choice([-1, 1], p=[0.8, 0.2])
    turn = swing * np.sign(np.cross(np.append(other - hinge, 0), np.append(-hinge, 0))[2] or 1)
    gate = _turn((other - hinge)[None] * rng.uniform(0.75, 1.05), turn)[0]
    shapes.append(Shape(np.stack([hinge, hinge + gate]), width * rng.uniform(0.8, 1.3)))
    return shapes


def _arrows(
    kind: str, rng: np.random.Generator, f: dict[str, float], half: float, style: dict[str, float]
) -> list[Shape]:
    """The arrows of a pictogram: along or across, inside, outside or through the contour."""
    along = kind != "<cross>"
    if kind == "<open>" and not f["open_arrows"]:
        return []
    where = 2 if f["filled"] and f["where"] == 1 else int(f["where"])
    if f["filled"]:
        inner, outer = (0.0, 0.36) if along else (0.0, half * 0.8)
    elif along:
        inner, outer = ((0.05, 0.40), (0.56, 0.95), (0.25, 0.8))[where]
        inner, outer = inner * f["touch"], outer * (f["reach"] if where else 1.0)
    else:
        inner, outer = ((0.0, half * 0.85), (half + 0.06, half + 0.42), (half * 0.3, half + 0.35))[
            int(f["cross_where"])
        ]
    outside = not f["filled"] and (where == 1 if along else f["cross_where"] == 1)
    if outside and f["stubs"]:
        inner = (0.5 if along else half) + 0.4 * f["line"]
        style = style | {"stub": 1.0}
    axis = np.array([1.0, 0.0]) if along else np.array([0.0, 1.0])
    shapes = arrow_pair(rng, axis, inner, outer, style)
    if kind == "<open>" and not outside:  # the gate takes the middle, the arrows move aside
        aside = np.array([0.0, f["aside"] * half])
        shapes = [Shape(s.points + aside, s.width, s.cut) for s in shapes]
    return shapes


def draw(
    kind: str, rng: np.random.Generator, family: dict[str, float] | None = None
) -> list[Shape]:
    """Shapes of one pictogram; `family` (see `family_of`) keeps a stamp's pictograms alike."""
    f = family or family_of(rng)
    style = {k: f[k] for k in ("head", "spread", "solid", "width")} | {"stub": 0.0}
    long_axis = np.array([1.0, 0.0])
    if kind in ("<along>", "<across>"):
        length = f["bare"]
        gap = f["bare_gap"] * length
        shapes = arrow_pair(rng, long_axis, gap / 2, length / 2, style)
        if f["bar"]:
            shapes.append(Shape(np.array([[0, -0.3], [0, 0.3]]), style["width"]))
        turn = 0.0 if (kind == "<along>") != bool(f["ladder"]) else math.pi / 2
        return [Shape(_turn(s.points, turn), s.width, s.cut) for s in shapes]
    local = np.random.default_rng(int(f["seed"]))
    ring = outline(local, f["aspect"])
    half = float(np.abs(ring[:, 1]).max())
    width = min(f["line"], 0.4 * half)
    if f["filled"] or f["where"] == 0:  # arrows inside stay clear of the contour
        style["width"] = min(style["width"], 0.28 * half)
        style["head"] = min(style["head"], 0.22)
        style["spread"] = min(style["spread"], 0.6 * half / style["head"])
    filled = bool(f["filled"])
    if kind == "<open>":
        shapes = _gate_open(rng, ring, width)
        filled = False  # a gate swung out of a filled body is drawn as a contour
    elif filled:
        shapes = [Shape(ring)]
    elif f["silhouette"]:
        shapes = [Shape(ring), Shape(ring * [1 - 2.6 * width, 1 - 1.3 * width / half], cut=True)]
    else:
        shapes = [Shape(np.concatenate([ring, ring[:1]]), width)]
        if f["gate_mark"]:
            y = half * 0.72
            shapes.append(Shape(np.array([[-0.22, y], [0.22, y]]), width * 0.8))
    arrows = _arrows(kind, rng, f, half, style)
    shapes += [Shape(s.points, s.width, True) for s in arrows] if filled else arrows
    scale = f["size"]
    return [Shape(_turn(s.points, f["turn"]) * scale, s.width * scale, s.cut) for s in shapes]


def family_of(rng: np.random.Generator) -> dict[str, float]:
    """One maker's habit of drawing: sizes, arrow heads, how the outline lies."""
    where = int(rng.integers(0, 3))
    turn = rng.choice(
        [0.0, math.pi / 2, math.pi, -math.pi / 2, rng.uniform(-1, 1)],
        p=[0.35, 0.28, 0.15, 0.15, 0.07],
    )
    return {
        "seed": int(rng.integers(1 << 31)),
        "aspect": rng.uniform(1.35, 2.6),
        "line": rng.uniform(0.035, 0.12),
        "width": rng.uniform(0.03, 0.11),
        "head": rng.uniform(0.12, 0.34),
        "spread": rng.uniform(0.35, 0.85),
        "solid": float(rng.random() < 0.6),
        "bare": rng.uniform(0.8, 1.9),
        "bare_gap": rng.choice([0.0, rng.uniform(0.05, 0.5)]),
        "bar": float(rng.random() < 0.12),
        "silhouette": float(rng.random() < 0.12),
        "filled": float(rng.random() < 0.16),
        "stubs": float(rng.random() < 0.35),
        "reach": rng.uniform(0.75, 1.1),
        "aside": float(rng.choice([0.0, rng.uniform(-0.6, 0.6)])),
        "gate_mark": float(rng.random() < 0.3),
        "where": where,
        "cross_where": where if rng.random() < 0.7 else int(rng.integers(0, 3)),
        "open_arrows": float(rng.random() < 0.6),
        "touch": float(rng.choice([0.0, 1.0])),
        "size": rng.uniform(0.8, 2.3),
        "turn": float(turn),
        "ladder": 0.0,  # 1 where the text runs across the spine: arrows keep to the spine
    }


def distractor(rng: np.random.Generator) -> list[Shape]:
    """Something engraved that is no pictogram of a load: logo, frame, book, rope, peak."""
    kind = rng.integers(0, 7)
    w = rng.uniform(0.05, 0.14)
    a = np.linspace(0, 2 * math.pi, 25)
    circle = np.stack([np.cos(a), np.sin(a)], 1) * 0.5
    if kind == 0:  # star or polygon
        n = int(rng.integers(3, 9))
        b = np.linspace(0, 2 * math.pi, 2 * n + 1)
        r = np.where(np.arange(2 * n + 1) % 2, rng.uniform(0.15, 0.5), 0.5)
        points = np.stack([np.cos(b) * r, np.sin(b) * r], 1)
        return [Shape(points, 0.0 if rng.random() < 0.5 else w)]
    if kind == 1:  # peak
        return [
            Shape(np.array([[-0.7, -0.5], [-0.2, 0.5], [0.05, 0.05], [0.25, 0.35], [0.7, -0.5]]), w)
        ]
    if kind == 2:  # open book with an i
        book = np.array(
            [
                [-0.6, -0.4],
                [-0.6, 0.35],
                [0, 0.25],
                [0.6, 0.35],
                [0.6, -0.4],
                [0, -0.5],
                [-0.6, -0.4],
            ]
        )
        i = [
            Shape(np.array([[0.3, -0.25], [0.3, 0.05]]), w),
            Shape(np.array([[0.3, 0.17], [0.3, 0.18]]), w),
        ]
        return [Shape(book, w), Shape(np.array([[0, -0.5], [0, 0.25]]), w * 0.7), *i]
    if kind == 3:  # ring or disc
        return [Shape(circle, 0.0 if rng.random() < 0.3 else w)]
    if kind == 4:  # wave
        x = np.linspace(-0.9, 0.9, 30)
        return [Shape(np.stack([x, 0.3 * np.sin(x * rng.uniform(3, 12))], 1), w)]
    if kind == 5:  # frame
        return [
            Shape(
                np.array([[-1, -0.5], [1, -0.5], [1, 0.5], [-1, 0.5], [-1, -0.5]])
                * rng.uniform(0.5, 1.2),
                w * 0.6,
            )
        ]
    points = rng.uniform(-0.6, 0.6, (int(rng.integers(3, 7)), 2))
    return [Shape(points, 0.0 if rng.random() < 0.4 else w)]


def conformity(rng: np.random.Generator) -> list[tuple[str, list[Array]]]:
    """The letters C and E of the conformity mark as strokes, height 1 over y = 0.

    Both are arcs of one circle, the E with a bar (form: Regulation (EC) 765/2008, annex II);
    makers keep to it more or less.
    """
    opening = math.radians(rng.uniform(40, 80))
    turn = np.linspace(opening, 2 * math.pi - opening, 25)
    arc = 0.5 + 0.5 * np.stack([np.cos(turn), np.sin(turn)], 1)
    end = 0.5 + 0.5 * math.cos(opening)
    bar = np.array([(0.0, 0.5), (rng.uniform(0.75, 1.0) * end, 0.5)])
    return [("C", [arc]), ("E", [arc, bar])]

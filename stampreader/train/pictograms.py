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
    kind = rng.choice(["oval", "d", "pear", "offset", "box", "ellipse"])
    n = 40
    a = np.linspace(0, 2 * math.pi, n, endpoint=False)
    b = 0.5 / aspect
    power = {"oval": 3.5, "d": 3.0, "pear": 2.6, "offset": 3.0, "box": 7.0, "ellipse": 2.0}[kind]
    x = np.sign(np.cos(a)) * np.abs(np.cos(a)) ** (2 / power) * 0.5
    y = np.sign(np.sin(a)) * np.abs(np.sin(a)) ** (2 / power) * b
    if kind == "d":
        y = np.where(y > 0, y * (1 - 0.5 * (2 * x) ** 2 * rng.uniform(0.4, 1)), y)
    if kind in ("pear", "offset"):
        y = y * (1 + rng.uniform(0.3, 0.55) * x * 2) / 1.3
    points = np.stack([x, y], 1)
    return points * [1, rng.choice([-1, 1])] if rng.random() < 0.5 else points


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


def draw(
    kind: str, rng: np.random.Generator, family: dict[str, float] | None = None
) -> list[Shape]:
    """Shapes of one pictogram; `family` (see `family_of`) keeps a stamp's pictograms alike."""
    f = family or family_of(rng)
    style = {k: f[k] for k in ("head", "spread", "solid", "width")}
    long_axis, short_axis = np.array([1.0, 0.0]), np.array([0.0, 1.0])
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
    width = f["line"]
    if kind == "<open>":
        shapes = _gate_open(rng, ring, width)
    elif f["silhouette"]:
        shapes = [Shape(ring), Shape(ring * [1 - 2.6 * width, 1 - 1.3 * width / half], cut=True)]
    else:
        shapes = [Shape(np.concatenate([ring, ring[:1]]), width)]
        if f["gate_mark"]:
            y = half * 0.72
            shapes.append(Shape(np.array([[-0.22, y], [0.22, y]]), width * 0.8))
    where = f["where"]
    if kind == "<closed>" or (kind == "<open>" and f["open_arrows"]):
        inner, outer = ((0.05, 0.40), (0.56, 0.95), (0.25, 0.8))[int(where)]
        shapes += arrow_pair(rng, long_axis, inner * f["touch"], outer, style)
    elif kind == "<cross>":
        inner, outer = ((0.0, half * 0.85), (half + 0.06, half + 0.42), (half * 0.3, half + 0.35))[
            int(f["cross_where"])
        ]
        shapes += arrow_pair(rng, short_axis, inner, outer, style)
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
        "silhouette": float(rng.random() < 0.15),
        "gate_mark": float(rng.random() < 0.3),
        "where": where,
        "cross_where": where if rng.random() < 0.7 else int(rng.integers(0, 3)),
        "open_arrows": float(rng.random() < 0.6),
        "touch": float(rng.choice([0.0, 1.0])),
        "size": rng.uniform(0.8, 1.7),
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

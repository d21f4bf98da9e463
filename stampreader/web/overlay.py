"""Where the boxes of a reading lie on its straightened crop. Pure: points in, points out."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from stampreader.words import SLOTS, Point, Quad, Stamp

OUTSIDE = 7.0
"""How far outside its corner a box is drawn, in the units of the drawing."""
LONG = 1000.0
"""Long side of the crop in the units of its drawing."""


@dataclass(frozen=True, slots=True)
class Box:
    """An outline on a crop.

    Attributes:
        kind: `closed`, `cross`, `open` or `mark`.
        text: what was read in it.
        points: corners as an SVG polygon takes them.
    """

    kind: str
    text: str
    points: str


@dataclass(frozen=True, slots=True)
class Drawing:
    """Size of a crop in the units of its drawing, and the boxes on it."""

    width: float
    height: float
    boxes: tuple[Box, ...]


def crop_drawing(stamp: Stamp, quad: Quad) -> Drawing:
    """The boxes of a stamp on the crop that was cut along `quad`."""
    a, b, _, d = quad
    length, height = math.dist(a, b), math.dist(a, d)
    scale = LONG / max(length, height, 1e-6)
    along = ((b[0] - a[0]) / max(length, 1e-6), (b[1] - a[1]) / max(length, 1e-6))

    def placed(point: Point) -> Point:
        dx, dy = point[0] - a[0], point[1] - a[1]
        return (
            (dx * along[0] + dy * along[1]) * scale,
            (dy * along[0] - dx * along[1]) * scale,
        )

    boxes = tuple(_box(kind, text, [placed(p) for p in q]) for kind, text, q in _outlines(stamp))
    return Drawing(round(length * scale, 1), round(height * scale, 1), boxes)


def photo_drawing(stamp: Stamp, size: tuple[int, int]) -> Drawing:
    """The boxes of a stamp on the whole upright photo of this size in pixels."""
    scale = LONG / max(*size, 1)
    boxes = tuple(
        _box(kind, text, [(x * scale, y * scale) for x, y in quad])
        for kind, text, quad in _outlines(stamp)
    )
    return Drawing(round(size[0] * scale, 1), round(size[1] * scale, 1), boxes)


def _outlines(stamp: Stamp) -> Iterator[tuple[str, str, Quad]]:
    for mark in stamp.marks:
        if mark.box is not None:
            yield "mark", mark.text, mark.box
    for slot in SLOTS:
        figure = stamp.figure(slot)
        if figure.box is not None:
            yield slot.value, "?" if figure.kN is None else str(figure.kN), figure.box


def _box(kind: str, text: str, corners: list[Point]) -> Box:
    """A box drawn a little outside what it surrounds, so that its line hides no edge of a glyph."""
    middle = (sum(x for x, _ in corners) / 4, sum(y for _, y in corners) / 4)
    outside = (_away(corner, middle) for corner in corners)
    return Box(kind, text, " ".join(f"{x:.0f},{y:.0f}" for x, y in outside))


def _away(corner: Point, middle: Point) -> Point:
    dx, dy = corner[0] - middle[0], corner[1] - middle[1]
    far = 1 + OUTSIDE / max(math.hypot(dx, dy), 1.0)
    return (middle[0] + dx * far, middle[1] + dy * far)

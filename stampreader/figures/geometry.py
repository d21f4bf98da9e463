"""Plane geometry of glyphs: angles, distances in the reading frame, oriented boxes.

Angles are degrees, 0 to the right and 90 downwards, as in `words.Glyph`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from stampreader.words import Glyph, Point, Quad


def turn_between(a_deg: float, b_deg: float) -> float:
    """Signed turn from `a_deg` to `b_deg`, in (-180, 180]."""
    turn = (b_deg - a_deg) % 360.0
    return turn - 360.0 if turn > 180.0 else turn


def mean_angle(angles: Iterable[float], weights: Iterable[float] | None = None) -> float:
    """Mean of directed angles, in [0, 360)."""
    return _mean(angles, weights, 1.0)


def mean_axis(angles: Iterable[float], weights: Iterable[float] | None = None) -> float:
    """Mean of undirected axes, in [0, 180): 10 and 190 degrees are the same axis."""
    return _mean(angles, weights, 2.0)


def _mean(angles: Iterable[float], weights: Iterable[float] | None, fold: float) -> float:
    listed = list(angles)
    given = [1.0] * len(listed) if weights is None else list(weights)
    x = sum(w * math.cos(math.radians(fold * a)) for a, w in zip(listed, given, strict=True))
    y = sum(w * math.sin(math.radians(fold * a)) for a, w in zip(listed, given, strict=True))
    return (math.degrees(math.atan2(y, x)) / fold) % (360.0 / fold)


def unit(angle_deg: float) -> Point:
    """Unit vector along a direction."""
    return math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))


def in_frame(origin: Point, angle_deg: float, point: Point) -> Point:
    """A point as (along, down) in the frame at `origin` whose reading direction is given."""
    ux, uy = unit(angle_deg)
    dx, dy = point[0] - origin[0], point[1] - origin[1]
    return dx * ux + dy * uy, -dx * uy + dy * ux


def centre(glyphs: Sequence[Glyph]) -> Point:
    """Mean of the centres."""
    return (
        sum(g.x for g in glyphs) / len(glyphs),
        sum(g.y for g in glyphs) / len(glyphs),
    )


def distance(a: Glyph, b: Glyph) -> float:
    """Distance between two centres in pixels."""
    return math.hypot(a.x - b.x, a.y - b.y)


def box_around(glyphs: Sequence[Glyph], angle_deg: float) -> Quad:
    """Tightest box along a direction around glyphs, corners as the text is read."""
    origin = centre(glyphs)
    left = top = math.inf
    right = bottom = -math.inf
    for glyph in glyphs:
        along, down = in_frame(origin, angle_deg, (glyph.x, glyph.y))
        left = min(left, along - glyph.width_px / 2)
        right = max(right, along + glyph.width_px / 2)
        top = min(top, down - glyph.height_px / 2)
        bottom = max(bottom, down + glyph.height_px / 2)
    ux, uy = unit(angle_deg)

    def corner(along: float, down: float) -> Point:
        return origin[0] + along * ux - down * uy, origin[1] + along * uy + down * ux

    return corner(left, top), corner(right, top), corner(right, bottom), corner(left, bottom)


def median(values: Iterable[float]) -> float:
    """Middle value; of an even number the mean of the two middle ones."""
    ordered = sorted(values)
    half = len(ordered) // 2
    return ordered[half] if len(ordered) % 2 else (ordered[half - 1] + ordered[half]) / 2

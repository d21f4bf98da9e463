"""A stamped face: a quadrilateral along its marks, in pixels of the upright photo."""

from __future__ import annotations

import math
from dataclasses import dataclass

from stampreader.words import Point, Quad


@dataclass(frozen=True, slots=True)
class Face:
    """Where marks stand in a photo.

    Attributes:
        quad: corners, top-left first as the text is read, clockwise.
        angle_deg: reading direction, 0 to the right, 90 downwards, in [0, 360).
        glyph_px: estimated height of a character.
        score: how much it looks like a stamped face, 0 to 1; not a probability.
        directed: whether the direction is known; if not, the text may run the other way round.
        baseline: centres of its characters in reading order, where they are known; a curved line
            is followed along them.
        framed: whether the quad is known to lie close and level round writing of that height.
    """

    quad: Quad
    angle_deg: float
    glyph_px: float
    score: float
    directed: bool = False
    baseline: tuple[Point, ...] = ()
    framed: bool = False


def face_along(centre: Point, length_px: float, height_px: float, angle_deg: float) -> Quad:
    """The rectangle of a given length along the reading direction round a centre.

    Example: `face_along((10, 10), 4, 2, 0)` is `((8, 9), (12, 9), (12, 11), (8, 11))`.
    """
    cos, sin = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    corners = []
    for along, down in ((-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)):
        u, v = along * length_px, down * height_px
        corners.append((centre[0] + u * cos - v * sin, centre[1] + u * sin + v * cos))
    a, b, c, d = corners
    return a, b, c, d


def quad_size(quad: Quad) -> tuple[float, float]:
    """Length along the reading direction and height of a quadrilateral, mean of opposite sides."""
    a, b, c, d = quad
    length = (math.dist(a, b) + math.dist(d, c)) / 2
    return length, (math.dist(a, d) + math.dist(b, c)) / 2


def quad_angle(quad: Quad) -> float:
    """Reading direction of a quadrilateral in degrees, 0 to the right, 90 downwards."""
    a, b, c, d = quad
    dx, dy = (b[0] + c[0]) - (a[0] + d[0]), (b[1] + c[1]) - (a[1] + d[1])
    return math.degrees(math.atan2(dy, dx)) % 360.0

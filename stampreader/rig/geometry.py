"""Small geometry in two or three dimensions; vectors are tuples, the last part points up."""

from __future__ import annotations

import math
from enum import StrEnum

from stampreader.rig.plan import Vector


class Convention(StrEnum):
    """What an angle is measured from; four are in use, and none is ever guessed."""

    INCLUDED = "included"
    HORIZONTAL = "from horizontal"
    VERTICAL = "from vertical"
    DEFLECTION = "deflection"


def plus(a: Vector, b: Vector, times: float = 1.0) -> Vector:
    """`a` and `times` times `b` together."""
    return tuple(p + times * q for p, q in zip(a, b, strict=True))


def minus(a: Vector, b: Vector) -> Vector:
    """From `b` to `a`."""
    return plus(a, b, -1.0)


def scaled(a: Vector, times: float) -> Vector:
    """`times` times `a`."""
    return tuple(times * part for part in a)


def dot(a: Vector, b: Vector) -> float:
    """The inner product."""
    return sum(p * q for p, q in zip(a, b, strict=True))


def size(a: Vector) -> float:
    """The length of a vector."""
    return math.hypot(*a)


def towards(a: Vector, b: Vector) -> Vector:
    """The direction from `a` to `b`, length 1; nothing where they coincide."""
    way = minus(b, a)
    length = size(way)
    return scaled(way, 1 / length) if length else way


def angle_between_deg(a: Vector, b: Vector) -> float:
    """The angle between two directions, 0 to 180 degrees, exact also near both ends."""
    p, q = towards(scaled(a, 0), a), towards(scaled(b, 0), b)
    return math.degrees(2 * math.atan2(size(minus(p, q)), size(plus(p, q))))


def up(dimension: int) -> Vector:
    """Straight up."""
    return (*([0.0] * (dimension - 1)), 1.0)


def rising(angle_deg: float, dimension: int, bearing_deg: float) -> Vector:
    """The direction that rises `angle_deg` above the horizontal.

    In the plane a bearing of 0 is to the right and 180 to the left; in space it turns from the
    first coordinate towards the second.
    """
    rise, run = _sin_cos(angle_deg)
    sin_b, cos_b = _sin_cos(bearing_deg)
    return (run * cos_b, rise) if dimension == 2 else (run * cos_b, run * sin_b, rise)


def turned(direction: Vector, angle_deg: float) -> Vector:
    """A direction of the plane turned anticlockwise."""
    sin, cos = _sin_cos(angle_deg)
    x, y = direction
    return (x * cos - y * sin, x * sin + y * cos)


def sag_of_length_m(a: Vector, b: Vector, share: float, length_m: float) -> float:
    """How far below the straight line `a` to `b` a line of given length is drawn at one place.

    The two parts of the line then are as long as the line: the place lies on the ellipse with the
    ends as foci. Worked example: ends 30 m apart, at the middle (share 0.5), line 34 m: half the
    line is 17 m, so the sag is √(17² − 15²) = 8 m.

    Args:
        share: part of the way from `a` to `b`, between 0 and 1.
        length_m: longer than the distance of the ends.
    """
    foot = plus(a, minus(b, a), share)
    low, high = 0.0, length_m
    for _ in range(200):
        middle = (low + high) / 2
        place = plus(foot, up(len(a)), -middle)
        if size(minus(place, a)) + size(minus(place, b)) < length_m:
            low = middle
        else:
            high = middle
    return high


def _sin_cos(angle_deg: float) -> tuple[float, float]:
    """Sine and cosine, exact at multiples of a right angle."""
    quarter = angle_deg % 360 / 90
    if quarter == int(quarter):
        return ((0.0, 1.0), (1.0, 0.0), (0.0, -1.0), (-1.0, 0.0))[int(quarter)]
    return math.sin(math.radians(angle_deg)), math.cos(math.radians(angle_deg))

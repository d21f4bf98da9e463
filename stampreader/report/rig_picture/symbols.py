"""The symbols of the drawing: anchors, edges, loads, hands, wheels, grabs, signs of a verdict."""

from __future__ import annotations

import math
from collections.abc import Iterator

from stampreader.report.rig_picture.routes import Wheel, left, plus
from stampreader.report.rig_picture.strokes import (
    AMBER,
    DEEP,
    HAIR,
    INK,
    PAPER,
    QUIET,
    RED,
    WASH,
    Disc,
    Line,
    Spot,
    Stroke,
)
from stampreader.rig import Outcome

STRAP = (120, 127, 136)
ROPE_LOOKS: tuple[tuple[tuple[int, int, int], tuple[float, ...]], ...] = (
    (DEEP, ()),
    (INK, (3.2, 1.6)),
    (QUIET, (0.9, 1.3)),
)
"""Colour and dashes of the first, second and further ropes; told apart without colour too."""


def shape(at: Spot, way: Spot, *spots: Spot) -> tuple[Spot, ...]:
    """Spots given along and to the left of a direction, on the page."""
    side = left(way)
    return tuple(plus(plus(at, way, along), side, across) for along, across in spots)


def anchor(at: Spot, away: Spot, half: float = 4.6) -> Iterator[Stroke]:
    """A bolt in the ground: a bar across the pull, hatched on its far side."""
    bar = shape(at, away, (1.8, -half), (1.8, half))
    for step in range(6):
        across = -half + (step + 0.25) * 2 * half / 6
        yield Line(shape(at, away, (1.8, across), (4.4, across + 1.6)), 0.25, QUIET)
    yield Line(bar, 0.9)
    yield Line((at, *shape(at, away, (1.8, 0.0))), 1.1)
    yield Disc(at, 1.25, INK, 0.0)


def edge(wheel: Wheel | None, at: Spot) -> Iterator[Stroke]:
    """An edge: rounded ground under the rope."""
    if wheel is None:
        yield Disc(at, 1.6, HAIR, 0.3, QUIET)
        return
    yield Disc(wheel.at, wheel.radius, HAIR, 0.0)
    for step in range(5):
        angle = math.radians(45 + 36 * step)
        inner = plus(wheel.at, (math.cos(angle), math.sin(angle)), wheel.radius * 0.35)
        yield Line((inner, plus(wheel.at, (math.cos(angle), math.sin(angle)), wheel.radius * 0.95)),
                   0.2, QUIET)  # fmt: skip
    yield Disc(wheel.at, wheel.radius, None, 0.3, QUIET)


def load(at: Spot, away: Spot) -> Iterator[Stroke]:
    """A weight hung on an eye, with the arrow of its pull."""
    yield Disc(at, 1.0, PAPER, 0.5)
    body = shape(at, away, (1.0, -2.2), (1.0, 2.2), (8.0, 3.8), (8.0, -3.8))
    yield Line(body, 0.5, closed=True, fill=(214, 219, 225))
    yield Line(shape(at, away, (2.6, 0.0), (6.4, 0.0)), 0.6)
    yield Line(shape(at, away, (4.9, -1.2), (6.6, 0.0), (4.9, 1.2)), 0.6)


def hand(at: Spot, away: Spot) -> Iterator[Stroke]:
    """Where people pull: a double arrow head."""
    for start in (0.0, 2.4):
        head = shape(at, away, (start - 1.6, -2.6), (start + 1.6, 0.0), (start - 1.6, 2.6))
        yield Line(head, 1.1)


def joint(at: Spot) -> Iterator[Stroke]:
    """A point where strands meet."""
    yield Disc(at, 1.5, PAPER, 0.8)


def strap(of: Wheel, held_at: Spot) -> Stroke:
    """What a wheel hangs on, where it runs below the ropes."""
    return Line((held_at, of.at), 1.0, STRAP)


def wheel(of: Wheel, held_at: Spot | None) -> Iterator[Stroke]:
    """A pulley or connector that a rope runs round, with the strap it hangs on over it."""
    yield Disc(of.at, of.radius - 0.6, WASH, 0.4)
    if held_at is not None and math.dist(held_at, of.at) > 0.5:
        yield Line((held_at, of.at), 1.0, STRAP)
    yield Disc(of.at, max(0.45, of.radius * 0.2), INK, 0.0)


def grab(at: Spot, way: Spot) -> Iterator[Stroke]:
    """A rope grab: teeth clamped on the rope."""
    body = shape(at, way, (-2.6, -1.6), (2.6, -1.6), (2.6, 1.6), (-2.6, 1.6))
    yield Line(body, 0.4, closed=True, fill=INK)
    for along in (-1.3, 0.3):
        chevron = shape(at, way, (along + 1.0, -1.0), (along, 0.0), (along + 1.0, 1.0))
        yield Line(chevron, 0.4, PAPER)


def leg(a: Spot, b: Spot) -> Iterator[Stroke]:
    """One leg of an anchor: a sling, drawn as a double line."""
    yield Line((a, b), 1.5, INK)
    yield Line((a, b), 0.7, PAPER)


def sign(outcome: Outcome, at: Spot, size: float = 2.1) -> Iterator[Stroke]:
    """The sign of a verdict; each has its own shape, so that no colour is needed to read it."""
    yield from _SIGNS[outcome](at, size)


def _keeps(at: Spot, size: float) -> Iterator[Stroke]:
    yield Disc(at, size, PAPER, 0.22 * size, DEEP)
    tick = ((-0.5, 0.05), (-0.12, 0.42), (0.52, -0.42))
    yield Line(tuple(plus(at, spot, size) for spot in tick), 0.27 * size, DEEP)


def _under_ratio(at: Spot, size: float) -> Iterator[Stroke]:
    corners = ((0.0, -1.15), (1.15, 0.85), (-1.15, 0.85))
    yield Line(tuple(plus(at, c, size) for c in corners), 0.2 * size, closed=True, fill=AMBER)
    yield Line((plus(at, (0.0, -0.45), size), plus(at, (0.0, 0.25), size)), 0.26 * size)
    yield Disc(plus(at, (0.0, 0.58), size), 0.14 * size, INK, 0.0)


def _under_one(at: Spot, size: float) -> Iterator[Stroke]:
    corners = ((-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0))
    yield Line(tuple(plus(at, c, size) for c in corners), 0.3, RED, closed=True, fill=RED)
    for a, b in (((-0.5, -0.5), (0.5, 0.5)), ((-0.5, 0.5), (0.5, -0.5))):
        yield Line((plus(at, a, size), plus(at, b, size)), 0.28 * size, PAPER)


def _unknown(at: Spot, size: float) -> Iterator[Stroke]:
    corners = ((0.0, -1.25), (1.25, 0.0), (0.0, 1.25), (-1.25, 0.0))
    yield Line(tuple(plus(at, c, size) for c in corners), 0.2 * size, closed=True, fill=PAPER)
    hook = ((-0.3, -0.3), (-0.15, -0.58), (0.2, -0.55), (0.3, -0.25), (0.0, 0.02), (0.0, 0.2))
    yield Line(tuple(plus(at, spot, size) for spot in hook), 0.2 * size)
    yield Disc(plus(at, (0.0, 0.55), size), 0.13 * size, INK, 0.0)


def _barred(at: Spot, size: float) -> Iterator[Stroke]:
    yield Disc(at, size, PAPER, 0.32 * size, RED)
    yield Line((plus(at, (-0.65, -0.65), size), plus(at, (0.65, 0.65), size)), 0.32 * size, RED)


_SIGNS = {
    Outcome.KEEPS: _keeps,
    Outcome.UNDER_RATIO: _under_ratio,
    Outcome.UNDER_ONE: _under_one,
    Outcome.UNKNOWN: _unknown,
    Outcome.BARRED: _barred,
}

"""How the ropes of a plan run on paper: round the wheels of pulleys, strands side by side.

Points lie to scale; wheels, grabs and the lanes between strands are symbols of fixed size. Where
a rope turns back on itself its strands are laid side by side, one wheel apart.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise

from stampreader.report.rig_picture.strokes import Spot
from stampreader.rig.plan import Kind, Plan, Rope, Turn, Vector

WHEEL = {Turn.PULLEY: 2.9, Turn.CONNECTOR: 1.7, Turn.EDGE: 2.9, None: 2.3}
"""Radius of what a rope turns round, in mm on paper."""
TILT_DEG = 18.0
STRAP = 6.5
"""How far a wheel hangs from the point where the legs of its anchor meet, mm."""
HAIRPIN_DEG = 150.0
"""A rope that turns by more comes back beside itself."""


@dataclass(frozen=True, slots=True)
class Wheel:
    """What a rope turns round; `sense` is +1 where the rope keeps it on its left, else -1."""

    at: Spot
    radius: float
    sense: int
    point: str


@dataclass(slots=True)
class Route:
    """One rope on paper.

    Attributes:
        strands: the line of each strand, straight parts with the arc at their far end.
        straight: the two ends of each strand's straight part.
        ends: where its first and last end lie.
        wheels: by number of the stop.
        grabs: where a grab sits, by number of the stop, with the direction of the rope there.
    """

    rope: Rope
    spots: list[Spot] = field(default_factory=list)
    straight: list[tuple[Spot, Spot]] = field(default_factory=list)
    wheels: dict[int, Wheel] = field(default_factory=dict)
    grabs: dict[int, tuple[Spot, Spot]] = field(default_factory=dict)

    @property
    def ends(self) -> tuple[Spot, Spot]:
        """Where the rope begins and ends."""
        return self.straight[0][0], self.straight[-1][1]


def plus(a: Spot, b: Spot, times: float = 1.0) -> Spot:
    """`a` and `times` times `b`."""
    return a[0] + times * b[0], a[1] + times * b[1]


def unit(a: Spot, b: Spot) -> Spot:
    """The direction from `a` to `b`; nothing where they coincide."""
    length = math.dist(a, b)
    return ((b[0] - a[0]) / length, (b[1] - a[1]) / length) if length > 1e-9 else (0.0, 0.0)


def left(way: Spot) -> Spot:
    """A quarter turn from a direction, to the left on paper (y runs down)."""
    return way[1], -way[0]


def dot(a: Spot, b: Spot) -> float:
    """The inner product."""
    return a[0] * b[0] + a[1] * b[1]


def flat(place: Vector, turn_deg: float = 25.0) -> Spot:
    """A place seen from the front; in space turned a little and from slightly above.

    Up is negative, as on paper.
    """
    if len(place) == 2:
        return place[0], -place[1]
    x, y, z = place
    turn, tilt = math.radians(turn_deg), math.radians(TILT_DEG)
    across = x * math.cos(turn) - y * math.sin(turn)
    depth = x * math.sin(turn) + y * math.cos(turn)
    return across, -(z * math.cos(tilt) + depth * math.sin(tilt))


def route_of(plan: Plan, rope: Rope, spots: dict[str, Spot]) -> Route:
    """Lay one rope on paper; `spots` is the place of each point."""
    route = Route(rope)
    _set_wheels(plan, route, spots, _crowded(plan))
    shifts = _shifts(route, spots, _movable(plan, rope))
    _draw(route, [spots[stop.point] for stop in rope.path], shifts)
    return route


def _crowded(plan: Plan) -> set[str]:
    """Points where a wheel must share its place with another wheel or a grab."""
    here = [plan.root(stop.point) for rope in plan.ropes for stop in rope.path[1:-1]]
    return {name for name in here if here.count(name) > 1}


def _movable(plan: Plan, rope: Rope) -> set[str]:
    """Ends that may be moved aside a little: nothing but this rope comes to them."""
    others = {stop.point for other in plan.ropes if other is not rope for stop in other.path}
    legs = {a.joins for a in plan.anchors} | {leg.to for a in plan.anchors for leg in a.legs}
    return {name for name in plan.points if name not in others | legs}


def _ways(rope: Rope, spots: dict[str, Spot]) -> list[Spot]:
    """The direction of each strand as it lies between its points."""
    names = [stop.point for stop in rope.path]
    ways = [unit(spots[a], spots[b]) for a, b in pairwise(names)]
    for index, way in enumerate(ways):
        if way == (0.0, 0.0):  # drawn at one spot: in space, one behind the other
            ways[index] = ways[index - 1] if index else (1.0, 0.0)
    return ways


def _set_wheels(plan: Plan, route: Route, spots: dict[str, Spot], crowded: set[str]) -> None:
    """Choose the place and sense of every wheel of a rope."""
    ways = _ways(route.rope, spots)
    masters = {anchor.joins for anchor in plan.anchors}
    lane: Spot = (0.0, 0.0)
    fixed = False
    for stop in range(1, len(route.rope.path) - 1):
        if route.rope.path[stop].grab:
            fixed = True
            continue
        name = route.rope.path[stop].point
        way_in, way_out = ways[stop - 1], ways[stop]
        radius = WHEEL[plan.points[name].turn]
        sense = _sense(way_in, way_out)
        side = (left(way_in)[0] * sense, left(way_in)[1] * sense)
        if plan.points[name].kind is Kind.EDGE:
            at = plus(plus(spots[name], lane), _inward(way_in, way_out), radius)
        elif fixed or plan.root(name) in crowded:
            at = plus(plus(spots[name], lane), side, radius)
        else:
            at = spots[name]
        if plan.root(name) in masters:
            at = plus(at, unit((0.0, 0.0), plus(way_out, way_in, -1.0)), STRAP)
        fixed = True
        route.wheels[stop] = Wheel(at, radius, sense, name)
        if plan.points[name].kind is not Kind.EDGE:
            beside = plus(at, left(way_out), -sense * radius)
            lane = _across(plus(beside, spots[name], -1.0), way_out)


def _sense(way_in: Spot, way_out: Spot) -> int:
    """The side a rope turns to; turning back, lanes are laid upwards or to the right."""
    turn = math.degrees(math.atan2(-_cross(way_in, way_out), dot(way_in, way_out)))
    if abs(turn) >= HAIRPIN_DEG:
        room = (0.0, -1.0) if abs(way_in[0]) > abs(way_in[1]) else (1.0, 0.0)
        return 1 if dot(left(way_in), room) > 0 else -1
    return 1 if turn >= 0 else -1


def _cross(a: Spot, b: Spot) -> float:
    return a[0] * b[1] - a[1] * b[0]


def _across(shift: Spot, way: Spot) -> Spot:
    """The part of a shift across a direction."""
    side = left(way)
    return plus((0.0, 0.0), side, dot(shift, side))


def _inward(way_in: Spot, way_out: Spot) -> Spot:
    """From a corner to the middle of the round of radius 1 that touches both its sides."""
    inner = plus((-way_in[0], -way_in[1]), way_out)
    size = math.hypot(*inner)
    if size < 1e-9:
        return left(way_in)
    half = math.sqrt(max(1e-9, (1 + dot((-way_in[0], -way_in[1]), way_out)) / 2))
    half_sin = math.sqrt(max(1e-6, 1 - half**2))
    return inner[0] / size / half_sin, inner[1] / size / half_sin


def _shifts(route: Route, spots: dict[str, Spot], movable: set[str]) -> dict[int, Spot]:
    """How far ends and grabs are moved aside so that their strand keeps its direction."""
    ways = _ways(route.rope, spots)
    path = route.rope.path
    shifts: dict[int, Spot] = {}
    for stop, wheel in route.wheels.items():
        for step, way in ((-1, ways[stop - 1]), (1, ways[stop])):
            beside = plus(wheel.at, left(way), -wheel.sense * wheel.radius)
            shift = _across(plus(beside, spots[path[stop].point], -1.0), way)
            place = stop + step
            while 0 <= place < len(path) and place not in route.wheels:
                if path[place].grab or path[place].point in movable:
                    shifts.setdefault(place, shift)
                place += step
    return shifts


def _draw(route: Route, spots: list[Spot], shifts: dict[int, Spot]) -> None:
    """Join ends, grabs and wheels by straight strands and arcs."""
    last = len(spots) - 1
    begin: Spot | None = None
    for stop in range(last):
        a, b = route.wheels.get(stop), route.wheels.get(stop + 1)
        at_a = a.at if a else plus(spots[stop], shifts.get(stop, (0.0, 0.0)))
        at_b = b.at if b else plus(spots[stop + 1], shifts.get(stop + 1, (0.0, 0.0)))
        first, second = _tangent(at_a, a, at_b, b)
        if a is not None and begin is not None:
            route.spots += _arc(a, begin, first)
        route.spots += [first, second]
        route.straight.append((first, second))
        if route.rope.path[stop + 1].grab:
            route.grabs[stop + 1] = (second, unit(first, second))
        begin = second


def _tangent(at_a: Spot, a: Wheel | None, at_b: Spot, b: Wheel | None) -> tuple[Spot, Spot]:
    """The straight part between two wheels or ends."""
    arm_a = a.sense * a.radius if a else 0.0
    arm_b = b.sense * b.radius if b else 0.0
    apart = math.dist(at_a, at_b)
    if apart < 1e-6:
        return at_a, at_b
    lean = math.asin(max(-1.0, min(1.0, (arm_b - arm_a) / apart)))
    way = unit(at_a, at_b)
    cos, sin = math.cos(lean), math.sin(lean)
    # `left` turns against the clock on paper, and so must the lean
    way = plus((way[0] * cos, way[1] * cos), left(way), -sin)
    return plus(at_a, left(way), -arm_a), plus(at_b, left(way), -arm_b)


def _arc(wheel: Wheel, start: Spot, end: Spot) -> list[Spot]:
    """The rope on a wheel, from where it comes to where it leaves."""
    first = math.atan2(start[1] - wheel.at[1], start[0] - wheel.at[0])
    last = math.atan2(end[1] - wheel.at[1], end[0] - wheel.at[0])
    sweep = last - first
    turn = -wheel.sense  # on paper y runs down: a wheel on the left is rounded against the clock
    while sweep * turn < -1e-6:
        sweep += 2 * math.pi * turn
    steps = max(2, int(abs(sweep) / 0.15))
    return [
        (
            wheel.at[0] + wheel.radius * math.cos(first + sweep * step / steps),
            wheel.at[1] + wheel.radius * math.sin(first + sweep * step / steps),
        )
        for step in range(steps + 1)
    ]

"""The plan on paper: where its points lie to scale, how its ropes run, where its symbols sit."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import combinations, pairwise

from stampreader.paper import Rect
from stampreader.report.rig_picture.routes import (
    Route,
    Wheel,
    dot,
    flat,
    left,
    plus,
    route_of,
    unit,
)
from stampreader.report.rig_picture.strokes import Spot
from stampreader.rig.geometry import angle_between_deg, minus, size
from stampreader.rig.judge import Worked
from stampreader.rig.plan import Kind, Plan

AROUND = 21.0
"""Room left inside the drawing's frame for symbols and labels, mm."""
MOST_SCALE = 40.0
"""Millimetres on paper for one metre, at most."""
LANE = 4.0
TURNS = (25.0, 15.0, 35.0, 8.0, 50.0, 62.0, -15.0, -30.0)
STAND_OFF = 7.5
"""From the middle of the wheels to the symbol that holds them, mm."""


@dataclass(slots=True)
class Scene:
    """A plan laid out in a frame.

    Attributes:
        turn_deg: how far a plan in space is turned before it is drawn.
        scale: mm on paper for one metre.
        spots: where each point lies to scale.
        routes: the ropes.
        symbols: where the symbol of each root point sits, and the direction away from its ropes.
        wheels: wheels by the point they belong to.
    """

    worked: Worked
    frame: Rect
    turn_deg: float = 0.0
    scale: float = 1.0
    spots: dict[str, Spot] = field(default_factory=dict)
    routes: list[Route] = field(default_factory=list)
    symbols: dict[str, tuple[Spot, Spot]] = field(default_factory=dict)
    wheels: dict[str, Wheel] = field(default_factory=dict)

    @property
    def grabbed(self) -> set[str]:
        """Root points that hold a grab."""
        return {
            self.plan.root(route.rope.path[stop].point)
            for route in self.routes
            for stop in route.grabs
        }

    @property
    def plan(self) -> Plan:
        """The plan that is drawn."""
        return self.worked.plan


def lay_out(worked: Worked, frame: Rect) -> Scene:
    """Fit a plan into a frame and lay out its ropes and symbols."""
    scene = Scene(worked, frame, best_turn(worked.plan))
    _fit(scene)
    scene.routes = [route_of(scene.plan, rope, scene.spots) for rope in scene.plan.ropes]
    for route in scene.routes:
        scene.wheels.update({wheel.point: wheel for wheel in route.wheels.values()})
    for name, point in scene.plan.points.items():
        if point.on is None:
            scene.symbols[name] = _symbol(scene, name)
    return scene


def height_wanted(worked: Worked, width: float) -> float:
    """How high a frame of this width must be to draw a plan as large as the width allows."""
    turn = best_turn(worked.plan)
    spots = [flat(point.at, turn) for point in worked.plan.points.values()]
    wide, high = _extent(spots)
    scale = min((width - 2 * AROUND) / wide if wide > 1e-9 else MOST_SCALE, MOST_SCALE)
    return high * scale + 2 * AROUND + LANE * _most_lanes(worked.plan)


def best_turn(plan: Plan) -> float:
    """The turn at which the parts of a plan in space are seen furthest apart."""
    if plan.dimension == 2:
        return 0.0
    return max(TURNS, key=lambda turn: _apart(plan, turn))


def _apart(plan: Plan, turn: float) -> float:
    """The smallest angle on paper between two parts that meet, degrees."""
    seen = {name: flat(point.at, turn) for name, point in plan.points.items()}
    least = 180.0
    for name, point in plan.points.items():
        there = {n: minus(plan.points[n].at, point.at) for n in _neighbours(plan, name)}
        for a, b in combinations([n for n, way in there.items() if size(way) > 1e-6], 2):
            if angle_between_deg(there[a], there[b]) > 1.0:
                ways = (unit(seen[name], seen[a]), unit(seen[name], seen[b]))
                least = min(least, turn_between(*ways))
    return least


def _neighbours(plan: Plan, name: str) -> Iterator[str]:
    """The points that ropes and legs lead to from a point."""
    for rope in plan.ropes:
        for a, b in pairwise(rope.path):
            if name in (a.point, b.point):
                yield b.point if a.point == name else a.point
    for anchor in plan.anchors:
        for leg in anchor.legs:
            if name in (anchor.joins, leg.to):
                yield leg.to if anchor.joins == name else anchor.joins


def _most_lanes(plan: Plan) -> int:
    """How many strands at most lie side by side."""
    return max((len(rope.path) - 2 for rope in plan.ropes), default=0)


def _extent(spots: list[Spot]) -> Spot:
    xs, ys = zip(*spots, strict=True)
    return max(xs) - min(xs), max(ys) - min(ys)


def _fit(scene: Scene) -> None:
    """Scale and centre the points."""
    flat_spots = {name: flat(point.at, scene.turn_deg) for name, point in scene.plan.points.items()}
    wide, high = _extent(list(flat_spots.values()))
    room = (scene.frame.width - 2 * AROUND, scene.frame.height - 2 * AROUND)
    scales = [r / e for r, e in zip(room, (wide, high), strict=True) if e > 1e-9]
    scene.scale = min([*scales, MOST_SCALE])
    xs, ys = zip(*flat_spots.values(), strict=True)
    middle = ((max(xs) + min(xs)) / 2, (max(ys) + min(ys)) / 2)
    centre = (
        scene.frame.x + scene.frame.width / 2,
        scene.frame.y + scene.frame.height / 2,
    )
    for name, spot in flat_spots.items():
        away = plus(spot, middle, -1.0)
        scene.spots[name] = plus(centre, away, scene.scale)


def _symbol(scene: Scene, name: str) -> tuple[Spot, Spot]:
    """Where the symbol of a point sits, and the direction away from what comes to it."""
    away = _away(scene, name)
    grabs = [spot for route in scene.routes for stop, (spot, _) in route.grabs.items()
             if scene.plan.root(route.rope.path[stop].point) == name]  # fmt: skip
    if grabs:
        return grabs[0], away
    wheels = [w for w in scene.wheels.values() if scene.plan.root(w.point) == name]
    kind = scene.plan.points[name].kind
    if not wheels or kind is Kind.EDGE:
        return _end(scene, name), away
    if _is_master(scene, name) or (name in scene.wheels and kind is Kind.JOINT):
        return scene.spots[name], away
    middle = (
        sum(w.at[0] for w in wheels) / len(wheels),
        sum(w.at[1] for w in wheels) / len(wheels),
    )
    return plus(middle, away, STAND_OFF), away


def _end(scene: Scene, name: str) -> Spot:
    """Where a rope that ends at a point was laid, if it was moved aside."""
    for route in scene.routes:
        for end, stop in zip(route.ends, (route.rope.path[0], route.rope.path[-1]), strict=True):
            if stop.point == name:
                return end
    return scene.spots[name]


def _is_master(scene: Scene, name: str) -> bool:
    return any(anchor.joins == name for anchor in scene.plan.anchors)


def _away(scene: Scene, name: str) -> Spot:
    """The direction away from the ropes and legs of a point; a load hangs the way it pulls."""
    plan = scene.plan
    point = plan.points[name]
    if point.force is not None:
        return unit((0.0, 0.0), flat(point.force, scene.turn_deg))
    total: Spot = (0.0, 0.0)
    for way in ways_at(scene, name):
        total = plus(total, way, -1.0)
    if math.hypot(*total) > 0.2:
        return unit((0.0, 0.0), total)
    first = next(ways_at(scene, name), (0.0, 1.0))
    side = left(first)
    return side if side[1] <= 0 else (-side[0], -side[1])


def ways_at(scene: Scene, name: str) -> Iterator[Spot]:
    """Directions in which ropes and legs leave a point and what hangs on it."""
    plan = scene.plan
    for rope in plan.ropes:
        for a, b in pairwise(rope.path):
            for here, there in ((a.point, b.point), (b.point, a.point)):
                if plan.root(here) == name:
                    yield unit(scene.spots[here], scene.spots[there])
    for anchor in plan.anchors:
        for leg in anchor.legs:
            if anchor.joins == name:
                yield unit(scene.spots[name], scene.spots[leg.to])
            elif leg.to == name:
                yield unit(scene.spots[name], scene.spots[anchor.joins])


def turn_between(a: Spot, b: Spot) -> float:
    """The angle between two directions on paper, degrees."""
    return math.degrees(math.acos(max(-1.0, min(1.0, dot(a, b)))))

"""Warnings a plan earns: wide angles, pulls three ways, edges, what the register says."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np

from stampreader.rig.forces import Forces
from stampreader.rig.geometry import angle_between_deg
from stampreader.rig.plan import Anchor, Hold, Meet, Plan, Point, Vector
from stampreader.rig.refuse import Floats
from stampreader.rig.statics import leg_ways

WIDE_DEG = 120.0
"""Beyond this each leg carries more than the load itself."""
SAME_WAY_DEG = 5.0
"""Pulls that differ by less count as one direction."""


def find_warnings(plan: Plan, forces: Forces) -> tuple[str, ...]:
    """All warnings, one sentence each, in the order of the plan."""
    found: dict[str, None] = {}
    for anchor in plan.anchors:
        found.update(dict.fromkeys(_wide_legs(plan, forces, anchor)))
    found.update(dict.fromkeys(_wide_lines(plan, forces)))
    for point in plan.points.values():
        found.update(dict.fromkeys(_three_ways(plan, forces, point)))
    for place, hold in _holds(plan):
        found.update(dict.fromkeys(_of_hold(place, hold)))
    return tuple(found)


def _holds(plan: Plan) -> Iterator[tuple[str, Hold]]:
    for name, point in plan.points.items():
        for hold in point.held_by:
            yield name, hold


def _wide_legs(plan: Plan, forces: Forces, anchor: Anchor) -> Iterator[str]:
    ways = [tuple(map(float, way)) for way in leg_ways(plan, anchor)]
    widest = max((angle_between_deg(a, b) for a, b in combinations(ways, 2)), default=0.0)
    if widest > WIDE_DEG + 1e-9:
        yield (
            f"legs of {anchor.name} stand {widest:.0f}° apart (included angle): over 120° a leg "
            "carries more than the load"
        )
    for leg in anchor.legs:
        if forces.legs[anchor.name, leg.to] < 1e-9:
            yield f"the leg of {anchor.name} to {leg.to} carries nothing"


def _wide_lines(plan: Plan, forces: Forces) -> Iterator[str]:
    """Ropes drawn tight over a point that nothing else holds up."""
    held = {anchor.joins for anchor in plan.anchors}
    for name, point in plan.points.items():
        if point.kind.fixed or point.on is not None or name in held:
            continue
        for angle, tension, force in _spread(plan, forces, name):
            if angle > WIDE_DEG + 1e-9 and force > 1e-9:
                yield (
                    f"the line over {name} is tight: its strands stand {angle:.0f}° apart "
                    f"(included angle), and each pulls {tension / force:.2f} times what hangs there"
                )


def _spread(plan: Plan, forces: Forces, name: str) -> Iterator[tuple[float, float, float]]:
    """Angle, highest tension and resultant of the two strands of ropes that run over a point."""
    strands = forces.balance.strands
    for index in range(1, len(strands)):
        first, second = strands[index - 1], strands[index]
        path = plan.ropes[second.rope].path
        if first.rope != second.rope or second.a != name or path[second.place].grab:
            continue
        angle = angle_between_deg(_way(-first.way), _way(second.way))
        tensions = forces.balance.tension_kN[:, index - 1 : index + 1]
        pulls = tensions[:, :1] * -first.way + tensions[:, 1:] * second.way
        force = float(np.linalg.norm(pulls, axis=1).max())
        yield angle, float(tensions.max()), force


def _three_ways(plan: Plan, forces: Forces, point: Point) -> Iterator[str]:
    """A connector pulled in three directions or more; no standard rates that."""
    if point.meet is not Meet.CONNECTOR or not any(h.is_connector for h in point.held_by):
        return
    ways: list[Vector] = []
    for way in _pulls(plan, forces, point):
        if all(angle_between_deg(way, other) > SAME_WAY_DEG for other in ways):
            ways.append(way)
    if len(ways) + (point.kind.fixed and len(ways) > 1) > 2:
        yield (
            f"the connector at {point.name} is pulled {len(ways) + point.kind.fixed} ways: no "
            "figure is stamped for that; let the strands meet in a ring or plate"
        )


def _pulls(plan: Plan, forces: Forces, point: Point) -> Iterator[Vector]:
    """Directions of what pulls on a point, in the first state; each leg for itself."""
    for anchor in plan.anchors:
        if anchor.joins == point.name:
            yield from (_way(way) for way in leg_ways(plan, anchor))
    names = [point.name, *(n for n, child in plan.points.items() if child.on == point.name)]
    for name in names:
        for body in forces.bodies[name]:
            force = body.force[0]
            if np.linalg.norm(force) > 1e-9 and not body.what.startswith("legs of"):
                yield _way(force)


def _of_hold(place: str, hold: Hold) -> Iterator[str]:
    if hold.barred:
        yield f"{hold.name} at {place} is {hold.barred} in the register"
    yield from (f"{hold.name} at {place}: {remark}" for remark in hold.remarks)
    if hold.gate_towards_edge:
        yield f"the gate of {hold.name} at {place} lies towards an edge, which may open or break it"
    if hold.wanted is not None:
        yield f"{place} is an open place: no connector chosen yet ({hold.wanted})"
    elif hold.strength_kN(hold.loaded) is None:
        yield f"{hold.name} at {place} has no figure for '{hold.loaded}': not allowed so"


def _way(way: Floats) -> Vector:
    return tuple(map(float, way))

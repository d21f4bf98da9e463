"""What must hold before a plan can be worked out: everything is held, nothing hangs in the air."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from typing import NoReturn

from stampreader.rig.fields import plan_error
from stampreader.rig.geometry import angle_between_deg, minus, size, towards
from stampreader.rig.plan import Anchor, Kind, Plan, Rope, Sharing

STRAIGHT_DEG = 179.99
"""Two legs further apart than this lie in one line and cannot hold a load across it."""


def check_plan(plan: Plan) -> None:
    """Refuse a plan whose parts do not fit together.

    Raises:
        PlanError: with the line of the part and what to change.
    """
    _check_hanging(plan)
    for anchor in plan.anchors:
        _check_anchor(plan, anchor)
    _check_masters(plan)
    for rope in plan.ropes:
        _check_rope(plan, rope)
    _check_all_held(plan)


def _fail(plan: Plan, line: int, message: str, remedy: str) -> NoReturn:
    raise plan_error(plan.source, line, message, remedy)


def _check_hanging(plan: Plan) -> None:
    if not any(point.kind is Kind.LOAD for point in plan.points.values()):
        _fail(plan, 1, "the plan has no load", "Give one point kind = 'load' and force = \"2 kN\".")
    if not any(point.kind in (Kind.ANCHOR, Kind.EDGE) for point in plan.points.values()):
        _fail(plan, 1, "the plan has no anchor", "Give one point kind = 'anchor'.")
    for name, point in plan.points.items():
        if not point.kind.fixed and not _touched(plan, name):
            _fail(
                plan,
                point.line,
                f"point '{name}' floats: no rope or leg comes to it",
                "Let a rope or an anchor's leg end there, say what it hangs on, or take it out.",
            )


def _touched(plan: Plan, name: str) -> bool:
    """Whether anything is tied to a point or hangs on it."""
    if plan.points[name].on is not None:
        return True
    return (
        any(stop.point == name for rope in plan.ropes for stop in rope.path)
        or any(name in (a.joins, *(leg.to for leg in a.legs)) for a in plan.anchors)
        or any(point.on == name for point in plan.points.values())
    )


def _check_masters(plan: Plan) -> None:
    masters = Counter(anchor.joins for anchor in plan.anchors)
    for anchor in plan.anchors:
        if masters[anchor.joins] > 1:
            _fail(
                plan,
                anchor.line,
                f"two anchors join the point '{anchor.joins}'",
                "Make them one anchor with the legs of both, or give each its own point.",
            )


def _check_anchor(plan: Plan, anchor: Anchor) -> None:
    master = plan.points[anchor.joins]
    if master.on is not None:
        _fail(
            plan,
            anchor.line,
            f"anchor '{anchor.name}' joins '{anchor.joins}', which hangs on '{master.on}'",
            f"Join its legs in '{plan.root(anchor.joins)}'.",
        )
    if master.kind.fixed:
        _fail(
            plan,
            anchor.line,
            f"anchor '{anchor.name}' joins '{anchor.joins}', which is held already",
            "Join the legs in a point of kind 'joint' or 'load'.",
        )
    for leg in anchor.legs:
        if plan.points[leg.to].kind is not Kind.ANCHOR:
            _fail(
                plan,
                leg.line,
                f"a leg of '{anchor.name}' goes to '{leg.to}', which is no anchor point",
                f"Give [point.{leg.to}] kind = 'anchor', or use a rope between the two.",
            )
        if size(minus(plan.points[leg.to].at, master.at)) < 1e-6:
            _fail(
                plan,
                leg.line,
                f"the leg to '{leg.to}' has no length",
                "Move the point, or hang it with 'on'.",
            )
    _check_legs_apart(plan, anchor)
    if anchor.sharing is Sharing.AS_THREE and len(anchor.legs) < 3:
        _fail(
            plan,
            anchor.line,
            "sharing 'as three' is a rule for three or four legs",
            "Take 'sharing' out.",
        )


def _check_legs_apart(plan: Plan, anchor: Anchor) -> None:
    names = [leg.to for leg in anchor.legs]
    if len(set(names)) < len(names):
        _fail(plan, anchor.line, f"two legs of '{anchor.name}' go to one point", "Name each once.")
    if len(names) == 2:
        at = plan.points[anchor.joins].at
        a, b = (towards(at, plan.points[name].at) for name in names)
        if angle_between_deg(a, b) > STRAIGHT_DEG:
            _fail(
                plan,
                anchor.line,
                f"the legs of '{anchor.name}' lie in one line (180° included): no tension in them "
                "can hold a load across it",
                "Lower the master point or lengthen the legs; stay under 120°.",
            )


def _check_rope(plan: Plan, rope: Rope) -> None:
    for first, second in pairwise(rope.path):
        if size(minus(plan.points[first.point].at, plan.points[second.point].at)) < 1e-6:
            _fail(
                plan,
                rope.line,
                f"rope '{rope.name}' runs from '{first.point}' to '{second.point}', "
                "which lie at one place",
                "Leave one of the two out of its path.",
            )
    for end in (rope.path[0], rope.path[-1]):
        if end.grab:
            _fail(
                plan,
                rope.line,
                f"rope '{rope.name}' ends in a grab at '{end.point}'",
                "Let the rope run on behind the grab, or end it with the point's name.",
            )
    for stop in rope.path[1:-1]:
        _check_passing(plan, rope, stop.point, stop.grab)


def _check_passing(plan: Plan, rope: Rope, name: str, grab: bool) -> None:
    point = plan.points[name]
    if point.kind is Kind.HAND:
        _fail(
            plan, rope.line, f"rope '{rope.name}' runs on behind the hand '{name}'", "End it there."
        )
    if not grab and point.efficiency is None:
        _fail(
            plan,
            point.line,
            f"rope '{rope.name}' runs over '{name}', which has no efficiency",
            "Give the share of tension that comes through: 1 for no friction, as measured for a "
            "pulley; a bare connector lets about half to two thirds through.",
        )


def _check_all_held(plan: Plan) -> None:
    """Every part hangs together with something fixed."""
    held = {name for name, point in plan.points.items() if point.kind.fixed}
    links = [{stop.point for stop in rope.path} for rope in plan.ropes]
    links += [{a.joins, *(leg.to for leg in a.legs)} for a in plan.anchors]
    links += [{name, point.on} for name, point in plan.points.items() if point.on is not None]
    for _ in plan.points:
        for link in links:
            if link & held:
                held |= link
    for name, point in plan.points.items():
        if name not in held:
            _fail(
                plan,
                point.line,
                f"nothing fixed holds point '{name}'",
                "Tie it to an anchor with a rope, a leg or 'on'.",
            )

"""From a plan in balance to the force that each point, leg and rope is counted with."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from stampreader.rig.geometry import towards
from stampreader.rig.plan import Plan, Sharing
from stampreader.rig.refuse import Floats
from stampreader.rig.share import leg_forces, rule_of
from stampreader.rig.statics import Balance, balance

NOISE = Fraction(1, 10**10)
"""Forces are counted lower by this part: it is a thousand times the solver's own error, and keeps
that error from tipping 2 kN to 2.01 or an exact 15:1 to 14.99."""


@dataclass(frozen=True, slots=True)
class Body:
    """One thing that pulls on a point: a rope running over it, a grab, a leg, a load.

    Attributes:
        what: in words, for `--explain` and warnings.
        force: `(states, dimension)` in kN, as it pulls on the point.
    """

    what: str
    force: Floats


@dataclass(frozen=True, slots=True)
class Forces:
    """The forces a plan is judged by, in kN, highest over all states.

    Attributes:
        balance: what was solved.
        bodies: what pulls on each point.
        points: by point: what its hardware carries.
        legs: by anchor name and anchor point.
        ropes: the highest tension of each rope.
        rules: how each anchor's legs were shared.
    """

    balance: Balance
    bodies: dict[str, tuple[Body, ...]]
    points: dict[str, float]
    legs: dict[tuple[str, str], float]
    ropes: dict[str, float]
    rules: dict[str, Sharing]


def find_forces(plan: Plan) -> Forces:
    """Solve a plan and share its forces out to points, legs and ropes.

    Raises:
        PlanError: as `balance` and `leg_forces`.
    """
    solved = balance(plan)
    legs = {
        (anchor.name, leg.to): forces
        for index, anchor in enumerate(plan.anchors)
        for leg, forces in zip(
            anchor.legs, leg_forces(plan, anchor, solved.pull_kN[:, index]).T, strict=True
        )
    }
    bodies = {name: tuple(_bodies(plan, solved, legs, name)) for name in plan.points}
    rules = {anchor.name: rule_of(plan, anchor) for anchor in plan.anchors}
    loose = {
        leg.to
        for anchor in plan.anchors
        for leg in anchor.legs
        if rules[anchor.name] is not Sharing.EXACT
    }
    return Forces(
        balance=solved,
        bodies=bodies,
        points={name: _force_at(plan, bodies, name, loose) for name in plan.points},
        legs={key: float(force.max()) for key, force in legs.items()},
        ropes=_rope_forces(plan, solved),
        rules=rules,
    )


def counted_kN(force_kN: float) -> Fraction:
    """A solved force as an exact number, freed of the solver's noise."""
    return Fraction(max(force_kN, 0.0)) * (1 - NOISE)


def _bodies(
    plan: Plan, solved: Balance, legs: dict[tuple[str, str], Floats], name: str
) -> Iterator[Body]:
    """What pulls on a point by itself, without what hangs on it."""
    for number, rope in enumerate(plan.ropes):
        yield from _rope_bodies(solved, number, rope.name, rope.path, name)
    for index, anchor in enumerate(plan.anchors):
        if anchor.joins == name:
            yield Body(f"legs of {anchor.name}", solved.pull_kN[:, index])
        for leg in anchor.legs:
            if leg.to == name:
                way = np.array(towards(plan.points[name].at, plan.points[anchor.joins].at))
                yield Body(f"leg of {anchor.name}", legs[anchor.name, name][:, None] * way)
    force = plan.points[name].force
    if force is not None:
        yield Body("load", np.tile(np.array(force), (len(solved.tension_kN), 1)))


def _rope_bodies(
    solved: Balance, number: int, rope: str, path: tuple[object, ...], name: str
) -> Iterator[Body]:
    """The pulls of one rope: both strands together where it runs over or is grabbed."""
    pulls: dict[int, Floats] = {}
    for index, strand in enumerate(solved.strands):
        if strand.rope != number:
            continue
        tension = solved.tension_kN[:, index, None]
        if strand.a == name:
            pulls[strand.place] = pulls.get(strand.place, 0.0) + tension * strand.way
        if strand.b == name:
            stop = strand.place + 1
            pulls[stop] = pulls.get(stop, 0.0) - tension * strand.way
    for stop, force in pulls.items():
        yield Body(f"{_how(path, stop)} {rope}", force)


def _how(path: tuple[object, ...], stop: int) -> str:
    if stop in (0, len(path) - 1):
        return "end of"
    return "grab on" if getattr(path[stop], "grab", False) else "running"


def _force_at(plan: Plan, bodies: dict[str, tuple[Body, ...]], name: str, loose: set[str]) -> float:
    """What the hardware of a point carries.

    Where the ground or another point holds it: all that pulls on it, together. Where only ropes
    and legs hold it the pulls cancel, and it carries at most the largest of them. Where the force
    of a leg is only a bound, pulls that might cancel it are added up without their directions.
    """
    parts = [body.force for body in bodies[name]]
    parts += [_passed_on(plan, bodies, child) for child in _children(plan, name)]
    if not parts:
        return 0.0
    point = plan.points[name]
    if name in loose:
        return sum(_most(part) for part in parts)
    if point.kind.fixed or point.on is not None:
        return _most(sum(parts[1:], parts[0]))
    return max(_most(part) for part in parts)


def _passed_on(plan: Plan, bodies: dict[str, tuple[Body, ...]], name: str) -> Floats:
    """All that pulls on a point and on what hangs on it."""
    states = next(len(b.force) for found in bodies.values() for b in found)
    total = np.zeros((states, plan.dimension))
    for body in bodies[name]:
        total = total + body.force
    for child in _children(plan, name):
        total = total + _passed_on(plan, bodies, child)
    return total


def _children(plan: Plan, name: str) -> list[str]:
    return [child for child, point in plan.points.items() if point.on == name]


def _most(force: Floats) -> float:
    return float(np.linalg.norm(force, axis=1).max())


def _rope_forces(plan: Plan, solved: Balance) -> dict[str, float]:
    return {
        rope.name: max(
            float(solved.tension_kN[:, index].max())
            for index, strand in enumerate(solved.strands)
            if strand.rope == number
        )
        for number, rope in enumerate(plan.ropes)
    }

"""The working behind the forces, line by line, with the balance left at every point."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np

from stampreader.rig.advantage import Advantage
from stampreader.rig.geometry import angle_between_deg
from stampreader.rig.judge import Worked
from stampreader.rig.plan import Anchor, Way
from stampreader.rig.refuse import Floats
from stampreader.rig.share import RULE_WORDS
from stampreader.rig.statics import leg_ways


def explain(worked: Worked) -> tuple[str, ...]:
    """The working of a plan: tensions, shares, advantage, and what is left over at each point."""
    plan = worked.plan
    return (
        *_states(worked),
        *_tensions(worked),
        *(line for anchor in plan.anchors for line in _shares(worked, anchor)),
        *_points(worked),
        *(_advantage(worked.advantage) if worked.advantage else ()),
        *_residuals(worked),
    )


def _states(worked: Worked) -> Iterator[str]:
    count = len(worked.forces.balance.tension_kN)
    way = worked.plan.way
    if way is Way.HOLDING and count > 1:
        yield (
            "Holding still: friction may act either way at each rubbing point; each force is the "
            f"highest of {count} combinations solved."
        )
    elif way is not Way.HOLDING:
        yield f"{way.capitalize()}: friction acts against the movement of the ropes."


def _tensions(worked: Worked) -> Iterator[str]:
    solved = worked.forces.balance
    for index, strand in enumerate(solved.strands):
        name = worked.plan.ropes[strand.rope].name
        low, high = (float(edge(solved.tension_kN[:, index])) for edge in (np.min, np.max))
        shown = f"{high:.3f}" if high - low < 5e-4 else f"{low:.3f} to {high:.3f}"
        yield f"rope {name}, {strand.a} → {strand.b}: {shown} kN"


def _shares(worked: Worked, anchor: Anchor) -> Iterator[str]:
    plan, forces = worked.plan, worked.forces
    index = plan.anchors.index(anchor)
    total = float(np.linalg.norm(forces.balance.pull_kN[:, index], axis=1).max())
    rule = forces.rules[anchor.name]
    yield f"anchor {anchor.name}: pull {total:.3f} kN, shared '{rule}': {RULE_WORDS[rule]}"
    if anchor.angle is not None:
        yield f"  angle as given: {anchor.angle}"
    yield from _angles(worked, anchor)
    for leg in anchor.legs:
        force = forces.legs[anchor.name, leg.to]
        part = f", {force / total:.4f} of the pull" if total > 0 else ""
        yield f"  leg to {leg.to}: {force:.3f} kN{part}"


def _angles(worked: Worked, anchor: Anchor) -> Iterator[str]:
    plan, forces = worked.plan, worked.forces
    ways = leg_ways(plan, anchor)
    for first, second in combinations(range(len(ways)), 2):
        apart = angle_between_deg(tuple(map(float, ways[first])), tuple(map(float, ways[second])))
        names = f"{anchor.legs[first].to} and {anchor.legs[second].to}"
        yield f"  legs to {names} stand {apart:.1f}° apart (included angle)"
    pull = forces.balance.pull_kN[0, plan.anchors.index(anchor)]
    if len(ways) == 2 and abs(float((ways[0] - ways[1]) @ pull)) < 1e-9:
        yield "  pull midway between the two: each carries pull / (2 cos(included angle / 2))"


def _points(worked: Worked) -> Iterator[str]:
    for name in worked.plan.points:
        yield f"point {name}: {worked.forces.points[name]:.3f} kN"
        for body in worked.forces.bodies[name]:
            yield f"  {body.what}: {_arrow(body.force)}"


def _arrow(force: Floats) -> str:
    """A force as its parts, in the state where it is largest."""
    largest = force[int(np.argmax(np.linalg.norm(force, axis=1)))]
    parts = ", ".join(f"{part:+.3f}" for part in largest + 0.0)
    return f"({parts}) kN"


def _advantage(advantage: Advantage) -> Iterator[str]:
    yield f"mechanical advantage without friction: {advantage.ideal:.3f} : 1"
    yield (
        f"raising with friction, multiplied at each turn: {advantage.raising:.3f} : 1 "
        "(the rule all forces here use)"
    )
    yield (
        f"for comparison only, the rule of seamanship tables, which add a tenth of the load for "
        f"each of {advantage.turns} turns: hand {advantage.added_kN:.3f} kN"
    )


def _residuals(worked: Worked) -> Iterator[str]:
    for name, left in worked.forces.balance.left_kN.items():
        yield f"left over at {name}: {left:.1e} kN"

"""Mechanical advantage of a hauling system: load over hand, without and with friction."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stampreader.rig.forces import Forces
from stampreader.rig.plan import Kind, Plan, Way
from stampreader.rig.statics import balance, loads_kN

NAVY_SHARE = 0.1
"""Part of the load that old seamanship tables add for each sheave."""


@dataclass(frozen=True, slots=True)
class Advantage:
    """Load over hand.

    Attributes:
        ideal: without friction.
        raising: with the plan's efficiencies, multiplied at each turn.
        hand_kN: what the hand holds in the plan's own way of moving, at most.
        added_kN: the hand force raising by the other rule in print, which adds a tenth of the load
            for each turn (seamanship tables); only for comparison.
        turns: the turns counted for it.
    """

    ideal: float
    raising: float
    hand_kN: float
    added_kN: float
    turns: int


def find_advantage(plan: Plan, forces: Forces) -> Advantage | None:
    """The advantage of a plan with one load, one hand and ropes that say which way they move.

    `None` for any other: a control line beside a high line has no advantage to speak of.
    """
    hands = [name for name, point in plan.points.items() if point.kind is Kind.HAND]
    loads = [name for name, point in plan.points.items() if point.kind is Kind.LOAD]
    hand = forces.points.get(hands[0], 0.0) if len(hands) == 1 else 0.0
    if len(loads) != 1 or hand <= 0 or not _all_move(plan):
        return None
    load = loads_kN(plan)
    ideal = load / _hand_kN(plan, Way.RAISING, frictionless=True)
    turns = _turns(plan)
    return Advantage(
        ideal=ideal,
        raising=load / _hand_kN(plan, Way.RAISING),
        hand_kN=hand,
        added_kN=added_pull_kN(load, turns, ideal),
        turns=turns,
    )


def added_pull_kN(load_kN: float, turns: int, parts: float, share: float = NAVY_SHARE) -> float:
    """The pull on the hauling part when friction is added, not multiplied: W (1 + n s) / parts.

    Worked example: 4 t over 3 sheaves and 4 parts is 4 · 1.3 / 4 = 1.3 t.
    """
    return load_kN * (1 + turns * share) / parts


def _hand_kN(plan: Plan, way: Way, frictionless: bool = False) -> float:
    solved = balance(plan, way, frictionless)
    ends = [
        float(solved.tension_kN[0, index])
        for index, strand in enumerate(solved.strands)
        for end in (strand.a, strand.b)
        if plan.points[end].kind is Kind.HAND
    ]
    return float(np.max(ends))


def _turns(plan: Plan) -> int:
    return sum(1 for rope in plan.ropes for stop in rope.path[1:-1] if not stop.grab)


def _all_move(plan: Plan) -> bool:
    """Whether every rope that turns somewhere has an end it moves to."""
    return all(
        rope.towards is not None or all(stop.grab for stop in rope.path[1:-1])
        for rope in plan.ropes
    )

"""What if one thing goes wrong: a connector turned, a gate open, one leg of an anchor gone."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

import numpy as np

from stampreader.rig.forces import Forces, counted_kN
from stampreader.rig.geometry import minus, size
from stampreader.rig.judge import Outcome, Row, Worked, judge_hold
from stampreader.rig.plan import Anchor, Hold, Plan, Sharing
from stampreader.rig.refuse import Floats
from stampreader.rig.share import forces_without
from stampreader.rig.statics import leg_ways
from stampreader.words import Slot


class What(StrEnum):
    """The mishaps that are looked at."""

    CROSS = "turned crosswise"
    OPEN = "gate open"
    LEG = "leg gone"


@dataclass(frozen=True, slots=True)
class Mishap:
    """One mishap and the piece it leaves weakest.

    Attributes:
        where: the place it happens.
        row: the weakest piece then; `None` where nothing is left to hold the load.
    """

    what: What
    where: str
    row: Row | None

    @property
    def outcome(self) -> Outcome:
        """The verdict on the system's weakest piece in this mishap."""
        return Outcome.UNDER_ONE if self.row is None else self.row.outcome


@dataclass(frozen=True, slots=True)
class Turned:
    """One connector as planned, turned crosswise and with its gate open: a line of the matrix."""

    planned: Row
    cross: Mishap
    open: Mishap


@dataclass(frozen=True, slots=True)
class WhatIf:
    """Every single mishap of a plan."""

    connectors: tuple[Turned, ...]
    legs: tuple[Mishap, ...]

    @property
    def mishaps(self) -> tuple[Mishap, ...]:
        """All of them, connectors first."""
        turned = [m for line in self.connectors for m in (line.cross, line.open)]
        return (*turned, *self.legs)

    def leading_to(self, outcome: Outcome) -> tuple[Mishap, ...]:
        """The mishaps that alone bring a piece to an outcome it does not have as planned."""
        turned = [
            mishap
            for line in self.connectors
            if line.planned.outcome is not outcome
            for mishap in (line.cross, line.open)
        ]
        return tuple(m for m in (*turned, *self.legs) if m.outcome is outcome)


def what_if(worked: Worked) -> WhatIf:
    """Look at every single mishap; the forces at rest, without the jerk of its happening."""
    plan = worked.plan
    return WhatIf(
        connectors=tuple(
            Turned(row, _turned(plan, row, Slot.CROSS), _turned(plan, row, Slot.OPEN))
            for row in worked.rows
            if row.hold.is_connector and row.hold.wanted is None
        ),
        legs=tuple(_legs_gone(plan, worked.forces)),
    )


def _turned(plan: Plan, row: Row, slot: Slot) -> Mishap:
    """A connector loaded in another direction by the same force."""
    force = Fraction(row.judged.load_kN)
    turned = judge_hold(plan, row.place, row.point, row.hold, force, slot)
    return Mishap(What.CROSS if slot is Slot.CROSS else What.OPEN, row.place, turned)


def _legs_gone(plan: Plan, forces: Forces) -> Iterator[Mishap]:
    for index, anchor in enumerate(plan.anchors):
        for gone, leg in enumerate(anchor.legs):
            pull = forces.balance.pull_kN[:, index]
            rows = list(_rows_without(plan, forces, anchor, pull, gone))
            row = min(rows, key=lambda row: row.rank) if rows else None
            if row is not None or len(anchor.legs) == 1:
                yield Mishap(What.LEG, leg.to, row)


def _rows_without(
    plan: Plan, forces: Forces, anchor: Anchor, pull: Floats, gone: int
) -> Iterator[Row]:
    """The hardware on the remaining legs under what they then carry."""
    ways = leg_ways(plan, anchor)
    at = plan.points[anchor.joins].at
    lengths = np.array([size(minus(plan.points[leg.to].at, at)) for leg in anchor.legs])
    after = forces_without(ways, lengths, pull, gone).max(axis=0)
    if forces.rules[anchor.name] is Sharing.ONE_LEG:
        after = np.maximum(after, np.linalg.norm(pull, axis=1).max())
    for place, leg in enumerate(anchor.legs):
        if place == gone:
            continue
        force = float(after[place])
        besides = _besides(forces, leg.to)
        holds: list[tuple[str, Hold, float]] = [
            (leg.to, hold, force + besides) for hold in plan.points[leg.to].held_by
        ]
        holds += [(f"leg to {leg.to}", hold, force) for hold in leg.held_by]
        for where, hold, kN in holds:
            yield judge_hold(plan, where, leg.to, hold, counted_kN(kN), hold.loaded)


def _besides(forces: Forces, name: str) -> float:
    """What else pulls on an anchor point, added up without direction."""
    return sum(
        float(np.linalg.norm(body.force, axis=1).max())
        for body in forces.bodies[name]
        if not body.what.startswith("leg of")
    )

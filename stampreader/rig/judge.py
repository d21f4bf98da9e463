"""Margins in a rig: each piece of hardware against the force on it, weakest first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from stampreader.margin import SlotMargin, Verdict, judge_slot
from stampreader.rig.advantage import Advantage, find_advantage
from stampreader.rig.fall import Estimate, estimate_fall
from stampreader.rig.forces import Forces, counted_kN, find_forces
from stampreader.rig.plan import Hold, Plan, Sharing
from stampreader.rig.share import RULE_WORDS
from stampreader.rig.warn import find_warnings
from stampreader.units import Strength, round_up
from stampreader.words import Slot


class Outcome(StrEnum):
    """The verdict on one piece, or on the whole system."""

    KEEPS = "keeps the ratio"
    UNDER_RATIO = "under the ratio"
    UNDER_ONE = "would fail"
    UNKNOWN = "unknown, not allowed"
    BARRED = "not to be used"

    @property
    def allowed(self) -> bool:
        """Whether it may be used so."""
        return self is Outcome.KEEPS


@dataclass(frozen=True, slots=True)
class Row:
    """One piece of hardware under its force.

    Attributes:
        place: the point, leg or rope it holds.
        point: the point of the drawing it belongs to.
        hold: the hardware.
        slot: the direction it was judged in.
        judged: strength, force and margin.
    """

    place: str
    point: str
    hold: Hold
    slot: Slot
    judged: SlotMargin

    @property
    def force_kN(self) -> Decimal:
        """The force, rounded up to 0.01 kN."""
        return round_up(Fraction(self.judged.load_kN), 2)

    @property
    def margin(self) -> Decimal | None:
        """Strength over force, rounded down to 0.01; `None` without a figure or a force."""
        return self.judged.margin

    @property
    def outcome(self) -> Outcome:
        """The verdict; what the register bars is not to be used whatever its margin."""
        if self.hold.barred:
            return Outcome.BARRED
        return outcome_of(self.judged)

    @property
    def rank(self) -> tuple[int, float]:
        """Sort key, weakest first: no figure, then the lowest margin, then no force.

        Margins that differ by the solver's noise only count as equal.
        """
        if self.judged.strength is None:
            return 0, 0.0
        exact = self.judged.exact
        return (2, 0.0) if exact is None else (1, float(f"{float(exact):.9g}"))


@dataclass(frozen=True, slots=True)
class Worked:
    """A plan worked out.

    Attributes:
        rows: every piece of hardware, weakest first.
        warnings: one sentence each.
        assumptions: what was assumed where the plan does not say.
        unjudged: points that carry a force and name no hardware.
    """

    plan: Plan
    forces: Forces
    rows: tuple[Row, ...]
    warnings: tuple[str, ...]
    assumptions: tuple[str, ...]
    unjudged: tuple[str, ...]
    advantage: Advantage | None = None
    estimate: Estimate | None = None

    @property
    def weakest(self) -> Row | None:
        """The piece with the lowest margin among those with a figure; the system's margin."""
        known = [row for row in self.rows if row.judged.exact is not None]
        return known[0] if known else None

    @property
    def outcome(self) -> Outcome:
        """The system is as good as its worst piece."""
        found = {row.outcome for row in self.rows}
        for outcome in (Outcome.UNDER_ONE, Outcome.UNDER_RATIO, Outcome.BARRED, Outcome.UNKNOWN):
            if outcome in found:
                return outcome
        return Outcome.KEEPS if found else Outcome.UNKNOWN


def work_out(plan: Plan) -> Worked:
    """Solve a plan and judge everything in it.

    Raises:
        PlanError: the plan cannot be solved; the message names the line.
    """
    forces = find_forces(plan)
    rows = tuple(sorted(judge_all(plan, forces), key=lambda row: row.rank))
    return Worked(
        plan=plan,
        forces=forces,
        rows=rows,
        warnings=find_warnings(plan, forces),
        assumptions=_assumptions(plan, forces),
        unjudged=tuple(
            name
            for name, point in plan.points.items()
            if not point.held_by and forces.points[name] > 1e-9 and point.kind.value == "anchor"
        ),
        advantage=find_advantage(plan, forces),
        estimate=estimate_fall(plan),
    )


def judge_all(plan: Plan, forces: Forces) -> Iterator[Row]:
    """Every piece of hardware of a plan under its force, in the order of the plan."""
    for name, point in plan.points.items():
        yield from _rows(plan, name, name, point.held_by, forces.points[name])
    for anchor in plan.anchors:
        for leg in anchor.legs:
            force = forces.legs[anchor.name, leg.to]
            yield from _rows(plan, f"leg to {leg.to}", leg.to, leg.held_by, force)
    for rope in plan.ropes:
        where = rope.path[0].point
        yield from _rows(plan, f"rope {rope.name}", where, rope.held_by, forces.ropes[rope.name])


def _rows(
    plan: Plan, place: str, point: str, holds: tuple[Hold, ...], force_kN: float
) -> Iterator[Row]:
    for hold in holds:
        yield judge_hold(plan, place, point, hold, counted_kN(force_kN), hold.loaded)


def judge_hold(
    plan: Plan, place: str, point: str, hold: Hold, force_kN: Fraction, slot: Slot
) -> Row:
    """One piece of hardware under one force in one direction."""
    kN = hold.strength_kN(slot)
    strength = None if kN is None else Strength(kN)
    judged = judge_slot(slot, strength, force_kN, plan.ratio)
    return Row(place, point, hold, slot, judged)


def outcome_of(judged: SlotMargin) -> Outcome:
    """The verdict on a margin."""
    if judged.verdict is Verdict.UNKNOWN:
        return Outcome.UNKNOWN
    if judged.verdict is Verdict.ALLOWED:
        return Outcome.KEEPS
    assert judged.exact is not None
    return Outcome.UNDER_ONE if judged.exact < 1 else Outcome.UNDER_RATIO


def _assumptions(plan: Plan, forces: Forces) -> tuple[str, ...]:
    """What was assumed, and every strength the plan lowered, with its reason."""
    found = list(plan.assumptions)
    for anchor in plan.anchors:
        rule = forces.rules[anchor.name]
        if rule is not Sharing.EXACT:
            found.append(f"legs of {anchor.name} shared '{rule}': {RULE_WORDS[rule]}")
    for row in judge_all(plan, forces):
        if row.hold.keeps != 1:
            found.append(f"{row.hold.name} at {row.place} keeps {row.hold.keeps}: {row.hold.why}")
    return tuple(found)

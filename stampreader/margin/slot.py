"""The margin in one direction of load."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from stampreader.errors import UsageError
from stampreader.units import PERSON_kN, Strength, in_lbf, in_people, round_down
from stampreader.words import Slot


class Verdict(StrEnum):
    """Whether a strength keeps the ratio under a load."""

    ALLOWED = "allowed"
    NOT_ALLOWED = "not allowed"
    UNKNOWN = "unknown, not allowed"


@dataclass(frozen=True, slots=True)
class SlotMargin:
    """Strength, load and margin in one direction.

    Attributes:
        slot: the direction of load.
        strength: the figure stamped for it; `None` where none is known.
        load_kN: the force on the connector, exact.
        ratio: strength to load that the team asks for, at least 1.
        person_kN: load of one person with kit, for counting people.
    """

    slot: Slot
    strength: Strength | None
    load_kN: Decimal | Fraction
    ratio: Decimal
    person_kN: Decimal = PERSON_kN

    @property
    def exact(self) -> Fraction | None:
        """Strength over load, not rounded; `None` without a strength or without a load."""
        if self.strength is None or self.load_kN == 0:
            return None
        return Fraction(self.strength.kN) / Fraction(self.load_kN)

    @property
    def margin(self) -> Decimal | None:
        """Strength over load, rounded down to two places: 40 kN over 600 lbf is 14.98."""
        return None if self.exact is None else round_down(self.exact, 2)

    @property
    def allowed(self) -> Fraction | None:
        """The largest load in kN that keeps the ratio, exact: 27 kN at 10:1 allows 2.7 kN."""
        if self.strength is None:
            return None
        return Fraction(self.strength.kN) / Fraction(self.ratio)

    @property
    def allowed_kN(self) -> Decimal | None:
        """The largest load that keeps the ratio, rounded down to 0.01 kN."""
        return None if self.allowed is None else round_down(self.allowed, 2)

    @property
    def allowed_lbf(self) -> Decimal | None:
        """The same in pounds-force, rounded down: 2.7 kN is 606 lbf."""
        return None if self.allowed is None else round_down(in_lbf(self.allowed), 0)

    @property
    def allowed_people(self) -> int | None:
        """The same in whole people: 2.7 kN holds 2 people of 1.0 kN."""
        return None if self.allowed is None else in_people(self.allowed, self.person_kN)

    @property
    def verdict(self) -> Verdict:
        """Whether the exact margin reaches the ratio; unknown counts as not allowed."""
        if self.allowed is None:
            return Verdict.UNKNOWN
        return Verdict.ALLOWED if self.load_kN <= self.allowed else Verdict.NOT_ALLOWED


def judge_slot(
    slot: Slot,
    strength: Strength | None,
    load_kN: Decimal | Fraction,
    ratio: Decimal,
    person_kN: Decimal = PERSON_kN,
) -> SlotMargin:
    """The margin one strength leaves under one load.

    Example: 22 kN closed under 2 kN is a margin of 11.00 and keeps 10:1; 7 kN cross-loaded under
    the same load is 3.50 and does not.

    Raises:
        UsageError: negative load, strength or person of nothing, ratio under 1.
    """
    if load_kN < 0:
        raise UsageError("the load is negative", remedy="Give the force as a positive number.")
    if ratio < 1:
        raise UsageError(
            f"a ratio of {ratio} would allow more than the strength",
            remedy="Give how many times the load the strength must be, such as 10 or 15.",
        )
    if person_kN <= 0:
        raise UsageError(
            f"a person of {person_kN} kN weighs nothing",
            remedy="Give the load of one person with kit, such as 1.0.",
        )
    if strength is not None and strength.amount <= 0:
        raise UsageError(
            f"a strength of {strength} holds nothing",
            remedy="Give the figure as stamped, or leave it unknown.",
        )
    return SlotMargin(slot, strength, load_kN, ratio, person_kN)

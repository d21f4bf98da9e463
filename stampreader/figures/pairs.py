"""A figure stamped twice: in kN, and beside it in pounds, kilograms or decanewtons."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from stampreader.figures.lines import Line
from stampreader.figures.slots import Claim
from stampreader.figures.tokens import Number
from stampreader.units import Strength

APART = Decimal("0.02")
"""Printed pairs are rounded: 22 kN stands beside 5000 lbf, which is 22.24 kN."""

NEAR = 3.0  # largest free space, in heights, between the two

UNIT_WORDS = {
    "LBF": "lbf", "LBS": "lbf", "LB": "lbf", "KG": "kgf", "KGF": "kgf", "KP": "kgf", "DAN": "daN",
}  # fmt: skip


def companion(claim: Claim, others: Sequence[Number], lines: Sequence[Line]) -> Number | None:
    """The number in another unit right behind or before a figure in kN, if there is one."""
    own = claim.number
    if own.unit != "KN":
        return None
    line = lines[own.line]
    for other in others:
        if other.line != own.line or other.unit not in UNIT_WORDS:
            continue
        first, last = sorted((_reach(own), _reach(other)))
        between = range(first[1] + 1, last[0])
        near = all(line.gap_after(p) < NEAR for p in range(first[1], last[0]))
        if near and all(line.glyphs[p].char in "/-" for p in between):
            return other
    return None


def _reach(number: Number) -> tuple[int, int]:
    """First and last place of a number with its unit."""
    places = (*number.places, *number.unit_places)
    return min(places), max(places)


def go_together(claim: Claim, other: Number) -> bool:
    """Whether a figure in kN and its companion mean the same strength, within rounding.

    Example: 16 kN and 3600 lbf do (3600 lbf is 16.01 kN), 22 kN and 3600 lbf do not.
    """
    value, amount = claim.number.value, other.value
    if value is None or amount is None or other.unit is None:
        return False
    kN = Strength(amount, UNIT_WORDS[other.unit]).kN
    return abs(kN - value) <= APART * value

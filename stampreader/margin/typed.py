"""Figures and ratios as a person types them."""

from __future__ import annotations

from decimal import Decimal

from stampreader.errors import UsageError
from stampreader.margin.connector import Strengths
from stampreader.units import Strength, parse_number, parse_strength, shortened

MOST_RATIO = 1000
"""A ratio above this is taken for a slip of the pen and refused."""

_HOW = (
    "Write closed/cross/open in kN, such as 27/8/7, with '-' where the connector carries no figure."
)
_HOW_RATIO = "Give how many times the load the strength must be, such as 10 or 15:1."
_MISSING = ("", "-", "–", "?")


def parse_figures(text: str) -> Strengths:
    """Three figures as `closed/cross/open`, such as `27/8/7` or `25/10/-`.

    The order is that of this program; on a connector the pictogram tells, not the order. A unit
    behind the last figure holds for all without one of their own: `9000/2400/2400 lbf`.

    Raises:
        UsageError: not three figures, no figure at all, or a figure that is not a strength.
    """
    parts = [part.strip() for part in text.split("/")]
    if len(parts) != 3:
        raise UsageError(f"'{shortened(text)}' is not three figures", remedy=_HOW)
    unit = parts[-1].lstrip("0123456789., -–?").strip()
    parts[-1] = parts[-1].removesuffix(unit).strip()
    figures = [None if part in _MISSING else _strength(part, unit) for part in parts]
    if not any(figures):
        raise UsageError(f"'{shortened(text)}' holds no figure", remedy=_HOW)
    return Strengths(*figures)


def parse_ratio(text: str) -> Decimal:
    """A ratio of strength to load, such as `10` or `15:1`.

    Raises:
        UsageError: no number, zero, negative, under 1, or beyond `MOST_RATIO`.
    """
    number = text.strip().removesuffix(":1").strip()
    ratio = parse_number(number, "the ratio", _HOW_RATIO)
    if ratio < 1:
        raise UsageError(
            f"a ratio of {ratio} would allow more than the strength", remedy=_HOW_RATIO
        )
    if ratio > MOST_RATIO:
        raise UsageError(f"a ratio of {ratio} is over {MOST_RATIO}", remedy=_HOW_RATIO)
    return ratio


def _strength(part: str, unit: str) -> Strength:
    """One figure; in `unit` unless it names its own."""
    return parse_strength(part if any(c.isalpha() for c in part) else f"{part} {unit}")

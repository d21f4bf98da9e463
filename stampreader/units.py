"""Units of force at the edge of the program: what a person types, and rounding to the safe side.

Everything inside is kilonewtons, held exactly: `Decimal` where a number was typed or stamped,
`Fraction` where numbers were divided. Nothing here is a float.

Sources of the constants: standard gravity is 9.80665 m/s² exactly (3rd General Conference on
Weights and Measures, 1901) and the pound is 0.45359237 kg exactly (international agreement of
1959); both stand in NIST Special Publication 811, appendix B. The rest is their product.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from stampreader.errors import UsageError

GRAVITY_m_s2 = Decimal("9.80665")
POUND_kg = Decimal("0.45359237")
KGF_kN = GRAVITY_m_s2 / 1000
LBF_kN = POUND_kg * KGF_kN
PERSON_kN = Decimal("1.0")
"""A person with kit, unless set otherwise: common rescue practice, not a measured weight."""

MOST_kN = Decimal(1000)
"""More than this on one connector is taken for a slip of the pen and refused."""
MOST_DIGITS = 12
"""Digits a typed number may have, so that its product with any constant here stays exact."""

KN_PER: dict[str, Decimal] = {
    "kN": Decimal(1),
    "N": Decimal("0.001"),
    "daN": Decimal("0.01"),
    "kgf": KGF_kN,
    "lbf": LBF_kN,
}
"""Kilonewtons in one of each unit of force."""

_UNITS: dict[str, str] = {
    "kn": "kN",
    "n": "N",
    "dan": "daN",
    "kg": "kgf",
    "kgf": "kgf",
    "kp": "kgf",
    "lb": "lbf",
    "lbs": "lbf",
    "lbf": "lbf",
    "person": "people",
    "persons": "people",
    "people": "people",
}
_NUMBER = re.compile(r"[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+")
_WITH_UNIT = re.compile(r"\s*([-+]?)\s*([0-9.,]*)\s*([A-Za-z]*)\s*")
_THOUSANDS = re.compile(r"[0-9]{1,3}(?:,[0-9]{3})+")

_HOW_LOAD = "Write a number with its unit: '2 kN', '450 lbf', '200 kg' or '2 people'."
_HOW_STRENGTH = "Write it as stamped, with its unit: '27 kN' or '9000 lbf'."


@dataclass(frozen=True, slots=True)
class Load:
    """A load as a person gave it.

    Attributes:
        amount: the number as typed.
        unit: `kN`, `N`, `daN`, `kgf`, `lbf` or `people`.
        kN: the same in kilonewtons, exact, not rounded.
    """

    amount: Decimal
    unit: str
    kN: Decimal

    def __str__(self) -> str:
        """As it would be typed."""
        unit = "person" if self.unit == "people" and self.amount == 1 else self.unit
        return f"{self.amount} {unit}"


@dataclass(frozen=True, slots=True)
class Strength:
    """A strength figure in the unit it is stamped in; `unit` is a key of `KN_PER`."""

    amount: Decimal
    unit: str = "kN"

    @property
    def kN(self) -> Decimal:
        """The strength in kilonewtons, exact, not rounded."""
        return self.amount * KN_PER[self.unit]

    def __str__(self) -> str:
        """As it would be typed."""
        return f"{self.amount} {self.unit}"


def parse_number(text: str, what: str, remedy: str) -> Decimal:
    """A plain positive number; a decimal comma is taken, a comma before three digits is not.

    Args:
        text: what was typed, without a unit.
        what: what the number is, for the message.
        remedy: what to type instead, one sentence.

    Raises:
        UsageError: no number, zero, negative, ambiguous comma, or too many digits.
    """
    given = text.strip()
    if given.startswith(("-", "\u2212")):
        raise UsageError(f"{what} is negative: '{shortened(text)}'", remedy=remedy)
    if _THOUSANDS.fullmatch(given):
        raise UsageError(
            f"{what} '{shortened(text)}' may mean thousands or a decimal comma",
            remedy=f"Leave the comma out, or use a point. {remedy}",
        )
    if not _NUMBER.fullmatch(given):
        raise UsageError(f"{what} is not a plain number: '{shortened(text)}'", remedy=remedy)
    if sum(c.isdigit() for c in given) > MOST_DIGITS:
        raise UsageError(f"{what} has too many digits: '{shortened(text)}'", remedy=remedy)
    number = Decimal(given.replace(",", "."))
    if number == 0:
        raise UsageError(f"{what} is zero", remedy=remedy)
    return number


def parse_load(text: str, person_kN: Decimal = PERSON_kN) -> Load:
    """A load such as `2 kN`, `450 lbf`, `200 kg` or `2 people`.

    A mass is taken as its weight under standard gravity: `200 kg` is 1.96133 kN. A number
    without a unit is refused: kilonewtons and kilograms differ a hundredfold.

    Args:
        text: what was typed.
        person_kN: the load of one person with kit.

    Raises:
        UsageError: no unit, unknown unit, no number, zero, negative, or beyond `MOST_kN`.
    """
    amount, unit = _split(text, "the load", _HOW_LOAD)
    load_kN = amount * (person_kN if unit == "people" else KN_PER[unit])
    _refuse_huge(load_kN, "the load", text)
    return Load(amount, unit, load_kN)


def parse_strength(text: str) -> Strength:
    """A strength figure such as `27 kN` or `9000 lbf`; without a unit it is kilonewtons.

    Raises:
        UsageError: unknown unit, no number, zero, negative, or beyond `MOST_kN`.
    """
    has_unit = any(c.isalpha() for c in text)
    amount, unit = _split(text if has_unit else f"{text} kN", "the strength", _HOW_STRENGTH)
    if unit == "people":
        raise UsageError("a strength is not counted in people", remedy=_HOW_STRENGTH)
    strength = Strength(amount, unit)
    _refuse_huge(strength.kN, "the strength", text)
    return strength


def parse_person(text: str) -> Decimal:
    """The load of one person with kit, in kN: `1.0`, `1.33 kN`, `300 lbf` or `100 kg`.

    Raises:
        UsageError: as `parse_load`, and for a person given in people.
    """
    how = "Write the load of one person with kit, such as '1.0 kN', '300 lbf' or '100 kg'."
    has_unit = any(c.isalpha() for c in text)
    amount, unit = _split(text if has_unit else f"{text} kN", "the load of a person", how)
    if unit == "people":
        raise UsageError("the load of a person cannot be given in people", remedy=how)
    person_kN = amount * KN_PER[unit]
    _refuse_huge(person_kN, "the load of a person", text)
    if len(person_kN.normalize().as_tuple().digits) > MOST_DIGITS:
        # Keeps `people x person` exact; the safe side of a load is up.
        return round_up(person_kN, 6)
    return person_kN


def round_down(value: Decimal | Fraction | int, places: int = 2) -> Decimal:
    """The largest decimal with `places` places that is not above `value`.

    For strengths, margins and allowances. Example: 14.987 with 2 places is 14.98.
    """
    scaled = Fraction(value) * 10**places
    return Decimal(f"{scaled.numerator // scaled.denominator}E-{places}")


def round_up(value: Decimal | Fraction | int, places: int = 2) -> Decimal:
    """The smallest decimal with `places` places that is not below `value`.

    For loads and forces. Example: 2.6689 kN with 2 places is 2.67.
    """
    scaled = Fraction(value) * 10**places
    return Decimal(f"{-(-scaled.numerator // scaled.denominator)}E-{places}")


def in_lbf(force_kN: Decimal | Fraction) -> Fraction:
    """A force in pounds-force, exact; 1 kN is 224.808943… lbf. Round it for the side it is on."""
    return Fraction(force_kN) / Fraction(LBF_kN)


def in_people(force_kN: Decimal | Fraction, person_kN: Decimal = PERSON_kN) -> int:
    """How many whole people make up at most this force: 2.7 kN is 2 people of 1.0 kN."""
    return Fraction(force_kN) // Fraction(person_kN)


def _split(text: str, what: str, remedy: str) -> tuple[Decimal, str]:
    """Number and unit of what was typed; the unit in the spelling of `KN_PER` or `people`."""
    found = _WITH_UNIT.fullmatch(text.replace("\u2212", "-"))
    if not text.strip():
        raise UsageError(f"{what} is empty", remedy=remedy)
    if found is None:
        raise UsageError(f"{what} '{shortened(text)}' is not understood", remedy=remedy)
    sign, number, unit = found.groups()
    if not number:
        raise UsageError(f"{what} '{shortened(text)}' has no number", remedy=remedy)
    amount = parse_number(sign.replace("+", "") + number, what, remedy)
    if not unit:
        raise UsageError(f"{what} '{shortened(text)}' has no unit", remedy=remedy)
    if unit.lower() not in _UNITS:
        raise UsageError(f"{what} has an unknown unit '{shortened(unit)}'", remedy=remedy)
    return amount, _UNITS[unit.lower()]


def _refuse_huge(force_kN: Decimal, what: str, text: str) -> None:
    """Refuse what no connector carries."""
    if force_kN > MOST_kN:
        raise UsageError(
            f"{what} '{shortened(text)}' is over {MOST_kN} kN, more than any connector carries",
            remedy="Check the number and the unit.",
        )


def shortened(text: str) -> str:
    """What was typed, cut so that a message stays one line."""
    flat = " ".join(text.split())
    return flat if len(flat) <= 30 else flat[:29] + "…"

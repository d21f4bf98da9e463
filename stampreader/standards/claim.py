"""What a mark claims: which standard, which edition, which class; and the demands that follow."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal

from stampreader.standards.tables import EN_12275_1998, Demand, Row, rows_of
from stampreader.words import Slot

_NATIONAL = r"(?:GOST R|[A-Z]{2,4})"
_TAIL = r"(?:[ :-]+\(?(?P<year>(?:19|20)\d\d)\b\)?)?[ /,-]*(?:TYPE|CLASS)?[ /]*(?P<letter>[A-Z])?"
_CLAIMS: tuple[tuple[str, re.Pattern[str]], ...] = tuple(
    (standard, re.compile(rf"\W*{head}{_TAIL}\W*"))
    for standard, head in (
        ("EN 362", r"EN ?362"),
        ("EN 12275", r"EN ?12275"),
        # National editions carry years of their own, which do not tell the European one.
        ("EN 362", rf"{_NATIONAL} EN ?362(?:[ :-]+\d{{4}}(?:-\d\d)?)?"),
        ("EN 12275", rf"{_NATIONAL} EN ?12275(?:[ :-]+\d{{4}}(?:-\d\d)?)?"),
        ("UIAA", r"UIAA(?: ?121)?"),
        ("NFPA", r"NFPA ?(?:1983|2500)?"),
        ("ANSI Z359.12", r"(?:ANSI|ASSP|ASSE)?(?:/(?:ASSP|ASSE))? ?Z ?359(?:\.12)?"),
        ("CSA Z259.12", r"(?:CSA )?Z ?259(?:\.12)?"),
        ("ASTM F1774", r"(?:ASTM )?F ?1774"),
        ("ASTM F1956", r"(?:ASTM )?F ?1956"),
        ("ISO 10333-5", r"ISO ?10333(?:-5)?"),
        ("AS/NZS 4488", r"AS/NZS ?4488(?:\.\d)?"),
        ("AS/NZS 1891", r"AS/NZS ?1891(?:\.\d)?"),
    )
)

_EDITION_1998 = "the figure is that of the 2013 edition; the class figures of 1998 are not known"
_NO_EDITION = "the figure is that of the 2013 edition and no edition is stamped"
_NO_CLASS = "no class is stamped, and some classes have no such demand or none known here"
_MOST_OPEN_1998_kN = Decimal(7)
"""Largest gate-open minimum of any class before 2013; same source as `EN_12275_1998`."""


@dataclass(frozen=True, slots=True)
class Claim:
    """What one mark claims.

    Attributes:
        text: the mark as given.
        standard: normal form of the standard; both NFPA numbers are `NFPA`.
        year: edition stamped, if any.
        letter: class letter stamped; empty if none.
    """

    text: str
    standard: str
    year: int | None = None
    letter: str = ""


def read_claim(text: str) -> Claim | None:
    """What a mark claims, or `None` if it names no standard known here.

    Example: `EN 12275:2013/H` claims class H of the 2013 edition of EN 12275.
    """
    plain = " ".join(text.upper().split())
    for standard, pattern in _CLAIMS:
        found = pattern.fullmatch(plain)
        if found:
            year = found["year"]
            return Claim(text, standard, int(year) if year else None, found["letter"] or "")
    return None


def row_of(claim: Claim) -> Row | None:
    """The class a claim names; `None` if it names none, or one that is not in the tables."""
    rows = rows_of(claim.standard)
    if len(rows) == 1 and not rows[0].letter:
        return rows[0]
    return next((row for row in rows if row.letter == claim.letter), None)


def demands_of(claim: Claim) -> tuple[Demand, ...]:
    """The minimum strengths that follow from a claim.

    Without a class they are the least of any class. Figures of an edition that is not the one
    stamped, or that no edition is stamped for, are kept with a doubt.
    """
    row = row_of(claim)
    demands = _least(claim.standard) if row is None else row.demands
    if claim.standard != "EN 12275":
        return demands
    if claim.year == 1998:
        slots = {d.slot for d in demands if not d.doubt}
        range_1998 = tuple(d for d in EN_12275_1998 if d.slot in slots)
        return range_1998 + tuple(replace(d, doubt=d.doubt or _EDITION_1998) for d in demands)
    if claim.year is None:
        return tuple(_unless_new(demand) for demand in demands)
    return demands


def _unless_new(demand: Demand) -> Demand:
    """The demand, doubted if only the 2013 edition asks so much."""
    is_new = demand.slot is Slot.OPEN and demand.kN > _MOST_OPEN_1998_kN
    return replace(demand, doubt=_NO_EDITION) if is_new else demand


def _least(standard: str) -> tuple[Demand, ...]:
    """The least demand of any class in each direction; doubted where a class has none."""
    rows = [row for row in rows_of(standard) if row.edition is None]
    least = []
    for slot in Slot:
        of_slot = [_firm(row.demands, slot) for row in rows]
        known = [demand for demand in of_slot if demand is not None]
        if known:
            smallest = min(known, key=lambda demand: demand.kN)
            doubt = smallest.doubt or (_NO_CLASS if None in of_slot else "")
            least.append(replace(smallest, doubt=doubt))
    return tuple(least)


def _firm(demands: Iterable[Demand], slot: Slot) -> Demand | None:
    """The demand of a direction that carries no doubt."""
    return next((d for d in demands if d.slot is slot and not d.doubt), None)

"""What each standard demands of a connector, class by class, as data.

A demand is a figure the standard prints. Where it prints a pair, kN and lbf, both are kept: they
are rounded to each other (16 kN is 3,596.9 lbf, the pair says 3,600), so a stamp is compared in its
own unit. A demand from memory, or with a `doubt`, can advise but never find a stamp short.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from stampreader.standards.sources import Confidence
from stampreader.words import Slot


@dataclass(frozen=True, slots=True)
class Demand:
    """A minimum strength in one direction.

    Attributes:
        slot: the direction; `None` for the force on the gate itself, from the front or the side.
        kN: the minimum in kN as printed.
        source: key of `SOURCES`.
        confidence: how well it is sourced.
        lbf: the pound-force figure printed beside it, where there is one.
        auto_exempt: there is no such demand if the gate locks by itself.
        doubt: why a stamp below it is pointed out but not called short; empty for a firm demand.
    """

    slot: Slot | None
    kN: Decimal
    source: str
    confidence: Confidence = Confidence.ONE
    lbf: Decimal | None = None
    auto_exempt: bool = False
    doubt: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """One class of one standard.

    Attributes:
        standard: normal form of the standard, such as `EN 362`.
        letter: class letter; empty where the standard has no classes.
        name: the class in words.
        demands: what it demands; a direction that is not among them has no demand.
        edition: year of the only edition that has it; `None` if it does not matter.
        locks: a class whose connectors must lock.
    """

    standard: str
    letter: str
    name: str
    demands: tuple[Demand, ...] = ()
    edition: int | None = None
    locks: bool = False


CLOSED, CROSS, OPEN = Slot.CLOSED, Slot.CROSS, Slot.OPEN
SEVERAL, ONE, MEMORY = Confidence.SEVERAL, Confidence.ONE, Confidence.MEMORY

_UNLOCKED_ONLY = (
    "20 kN is demanded of the closed and locked gate, 15 kN of the closed gate that is not locked; "
    "the stamp does not say which it means"
)
_EDITIONS_DIFFER = "11 kN is given in one source and 10.67 kN in another: editions differ"
_NOT_COMPARABLE = (
    "it is a force to be held across gate and spine, not a breaking strength as under EN"
)
_OLD_UIAA = "older UIAA marks had classes N and L whose minima are not known here"


def _kN(slot: Slot | None, kN: str, source: str, confidence: Confidence = ONE) -> Demand:
    """A firm demand in kN."""
    return Demand(slot, Decimal(kN), source, confidence)


def _open(kN: str) -> Demand:
    """A gate-open demand of EN 12275:2013 that falls away if the gate locks by itself."""
    return Demand(OPEN, Decimal(kN), "en12275", ONE, auto_exempt=True)


def _class(letter: str, name: str, *demands: Demand) -> Row:
    """A class of EN 12275:2013."""
    return Row("EN 12275", letter, name, demands)


def _work(letter: str, name: str, cross: str | None) -> Row:
    """A self-closing class of EN 362:2004; 15 kN stands in two sources, the rest in one."""
    unlocked = _kN(CLOSED, "15", "en362-several", SEVERAL)
    locked = Demand(CLOSED, Decimal(20), "en362", ONE, doubt=_UNLOCKED_ONLY)
    across = (_kN(CROSS, cross, "en362"),) if cross else ()
    return Row("EN 362", letter, name, (unlocked, locked, *across), locks=True)


EN_12275 = (
    _class(
        "B",
        "basic",
        _kN(CLOSED, "20", "en12275-several", SEVERAL),
        _kN(CROSS, "7", "en12275-several", SEVERAL),
        _open("7"),
    ),
    _class(
        "H",
        "HMS: pear shaped, for the Italian (Munter) hitch",
        _kN(CLOSED, "20", "en12275-several", SEVERAL),
        _kN(CROSS, "7", "en12275-several", SEVERAL),
        _open("6"),
    ),
    _class(
        "K",
        "Klettersteig, for via ferrata sets",
        _kN(CLOSED, "25", "en12275"),
        _kN(CROSS, "7", "en12275"),
        _kN(OPEN, "8", "en12275"),
    ),
    _class("A", "for one kind of anchor", _kN(CLOSED, "20", "en12275"), _open("7")),
    _class(
        "T", "termination: keeps the direction of load", _kN(CLOSED, "20", "en12275"), _open("7")
    ),
    _class(
        "Q",
        "quick link: closed by a screw",
        _kN(CLOSED, "25", "en12275-several", SEVERAL),
        _kN(CROSS, "10", "en12275-several", SEVERAL),
    ),
    _class(
        "X",
        "oval",
        _kN(CLOSED, "18", "en12275-several", SEVERAL),
        _kN(CROSS, "7", "en12275-several", SEVERAL),
        Demand(OPEN, Decimal(5), "en12275-several", SEVERAL, auto_exempt=True),
    ),
    Row(
        "EN 12275",
        "D",
        "directional: keeps the direction of load (became T in 2013)",
        (
            _kN(CLOSED, "20", "memory", MEMORY),
            Demand(OPEN, Decimal(7), "memory", MEMORY, auto_exempt=True),
        ),
        edition=1998,
    ),
)

EN_12275_1998 = (
    _kN(CLOSED, "18", "en12275-1998"),
    _kN(CROSS, "7", "en12275-1998"),
    Demand(OPEN, Decimal(5), "en12275-1998", ONE, auto_exempt=True),
)
"""Least figures of any class of the 1998 edition; its class figures were not found."""

EN_362 = (
    _work("B", "basic", "7"),
    _work("M", "multi-use", "15"),
    _work("T", "termination: keeps the direction of load", None),
    _work("A", "for one kind of anchor", None),
    Row(
        "EN 362",
        "Q",
        "quick link: closed by a screw",
        (_kN(CLOSED, "25", "en362"), _kN(CROSS, "10", "en362")),
    ),
)

UIAA = Row(
    "UIAA",
    "",
    "EN 12275 with extra demands; figures are the least of any class",
    (
        Demand(CLOSED, Decimal(18), "en12275-1998", ONE, doubt=_OLD_UIAA),
        Demand(CROSS, Decimal(7), "en12275-1998", ONE, doubt=_OLD_UIAA),
        Demand(OPEN, Decimal(5), "en12275-1998", ONE, doubt=_OLD_UIAA),
    ),
)

NFPA = (
    Row(
        "NFPA",
        "T",
        "technical use: the lighter class",
        (
            Demand(CLOSED, Decimal(27), "nfpa-t", ONE, Decimal(6069)),
            Demand(CROSS, Decimal(7), "memory", MEMORY, Decimal(1574)),
            Demand(OPEN, Decimal(7), "memory", MEMORY, Decimal(1574)),
        ),
    ),
    Row(
        "NFPA",
        "G",
        "general use: the heavier class",
        (
            Demand(CLOSED, Decimal(40), "nfpa-g", SEVERAL, Decimal(8992)),
            Demand(CROSS, Decimal("10.67"), "nfpa-old", ONE, Decimal(2400)),
            Demand(CROSS, Decimal(11), "nfpa-g-minor", ONE, Decimal(2473), doubt=_EDITIONS_DIFFER),
            Demand(OPEN, Decimal(11), "memory", MEMORY, Decimal(2473)),
        ),
    ),
    Row(
        "NFPA",
        "P",
        "personal use (older editions)",
        (_kN(CLOSED, "26.67", "nfpa-old"), _kN(CROSS, "7.33", "nfpa-old")),
    ),
    Row(
        "NFPA",
        "L",
        "light use (editions between P and T)",
        (
            _kN(CLOSED, "27", "memory", MEMORY),
            _kN(CROSS, "7", "memory", MEMORY),
            _kN(OPEN, "7", "memory", MEMORY),
        ),
    ),
    Row("NFPA", "E", "escape: to leave a building; its figures are not known here"),
)

Z359 = Row(
    "ANSI Z359.12",
    "",
    "connectors of fall-arrest systems",
    (
        Demand(CLOSED, Decimal("22.2"), "z359", SEVERAL, Decimal(5000)),
        Demand(CROSS, Decimal(16), "z359", SEVERAL, Decimal(3600), doubt=_NOT_COMPARABLE),
        Demand(None, Decimal(16), "z359", SEVERAL, Decimal(3600)),
    ),
    locks=True,
)

OTHERS = (
    Row(
        "ASTM F1774",
        "",
        "climbing and mountaineering",
        (_kN(CLOSED, "20", "f1774"), _kN(CROSS, "7", "f1774")),
    ),
    Row(
        "ASTM F1956",
        "",
        "rescue: light-duty type (the heavy-duty one is recalled as 40 and 10.68)",
        (_kN(CLOSED, "27", "memory", MEMORY), _kN(CROSS, "7", "memory", MEMORY)),
    ),
    Row(
        "ISO 10333-5",
        "",
        "fall arrest for one person, not for rescue or rope access",
        (_kN(CLOSED, "20", "memory", MEMORY),),
    ),
    Row("CSA Z259.12", "", "connecting components of fall arrest; figures not known here"),
    Row("AS/NZS 4488", "", "industrial rope access; figures not known here"),
    Row("AS/NZS 1891", "", "industrial fall arrest; figures not known here"),
)

ROWS: tuple[Row, ...] = (*EN_12275, *EN_362, UIAA, *NFPA, Z359, *OTHERS)
"""Every class of every standard known here."""

EDITIONS: dict[str, tuple[int, ...]] = {"EN 12275": (1998, 2013), "EN 362": (2004,)}
"""Editions these tables speak of, where a year is stamped behind the standard."""


def rows_of(standard: str) -> tuple[Row, ...]:
    """All classes of one standard, in the order of the table."""
    return tuple(row for row in ROWS if row.standard == standard)

"""How often connectors are to be examined, and who asks for it."""

from __future__ import annotations

from dataclasses import dataclass

from stampreader.standards.sources import Confidence


@dataclass(frozen=True, slots=True)
class Regime:
    """One demand for examinations.

    Attributes:
        who: law, standard or practice.
        asks: what it asks for, in a sentence.
        months: interval of the thorough examination; `None` if none was found.
        source: where that was read, in words.
        confidence: how well it is sourced.
    """

    who: str
    asks: str
    months: int | None
    source: str
    confidence: Confidence


REGIMES: tuple[Regime, ...] = (
    Regime(
        "EN 365:2004",
        "Every 12 months at least, by a competent person, by the maker's procedure.",
        12,
        "EN 365 as quoted on a Greek fall-protection page; person and procedure on a second page",
        Confidence.ONE,
    ),
    Regime(
        "LOLER regulation 9 (United Kingdom): gear that lifts people",
        "Thorough examination every 6 months or by a written scheme, and after exceptional events.",
        6,
        "the Northern Ireland text of the regulation (SR 1999/304), and a summary of the GB one",
        Confidence.SEVERAL,
    ),
    Regime(
        "LOLER regulation 9 (United Kingdom): other lifting gear",
        "Thorough examination every 12 months.",
        12,
        "the Northern Ireland text of the regulation (SR 1999/304)",
        Confidence.ONE,
    ),
    Regime(
        "Rope access (industry syllabus)",
        "Before each use; in detail twice a year at least; in between after hard conditions.",
        6,
        "a rope-access trainer's page on the syllabus",
        Confidence.ONE,
    ),
    Regime(
        "ANSI/ASSP Z359 family",
        "Every 12 months, by a competent person other than the user.",
        12,
        "a safety journal's article on fall-protection checks",
        Confidence.ONE,
    ),
    Regime(
        "ANSI A10.32 (construction)",
        "Every 6 months.",
        6,
        "a safety journal's article on fall-protection checks",
        Confidence.ONE,
    ),
    Regime(
        "AS/NZS 1891.4",
        "Before and after use, and every 6 months with a record.",
        6,
        "a training guide (weak)",
        Confidence.ONE,
    ),
    Regime(
        "OSHA 29 CFR 1926.502(d)(21)",
        "Before each use.",
        None,
        "a safety journal's article on fall-protection checks",
        Confidence.ONE,
    ),
    Regime(
        "Rescue teams (mountain and cave rescue, United Kingdom)",
        "Before and after use, and every half year.",
        6,
        "one team's published procedure",
        Confidence.ONE,
    ),
    Regime(
        "Fire departments (North America)",
        "After each use and every quarter.",
        3,
        "rope logs and rescue policies of fire departments",
        Confidence.SEVERAL,
    ),
    Regime(
        "NFPA 1858, now in NFPA 2500",
        "Before and after use, and every 12 months by a competent person.",
        12,
        "from memory; a rescue trainer's article tells the habit without naming the standard",
        Confidence.MEMORY,
    ),
)
"""What was found; the maker's instructions and local rules come first."""

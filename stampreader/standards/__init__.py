"""Standards: what the standard a mark claims demands, and which stamped figure falls short.

Takes marks in normal form and figures; gives findings with the demanded minimum, its source and a
sentence for the person. The tables are data with sources; what is only from memory advises and
never judges. `explain` teaches the marks, class letters and pictograms in plain words.
"""

from stampreader.standards.check import check
from stampreader.standards.claim import Claim, read_claim
from stampreader.standards.explain import explain
from stampreader.standards.finding import Finding, Locking, Severity, locking_of, short_slots
from stampreader.standards.intervals import REGIMES, Regime
from stampreader.standards.lessons import Lesson
from stampreader.standards.sources import SOURCES, Confidence
from stampreader.standards.tables import Demand, Row
from stampreader.standards.third_party import NO_THIRD_PARTY, is_third_party, third_party_marks

__all__ = [
    "NO_THIRD_PARTY",
    "REGIMES",
    "SOURCES",
    "Claim",
    "Confidence",
    "Demand",
    "Finding",
    "Lesson",
    "Locking",
    "Regime",
    "Row",
    "Severity",
    "check",
    "explain",
    "is_third_party",
    "locking_of",
    "read_claim",
    "short_slots",
    "third_party_marks",
]

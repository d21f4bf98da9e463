"""A finding: what a mark demands, what is stamped, and how the two stand to each other."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from stampreader.standards.sources import Confidence
from stampreader.units import Strength
from stampreader.words import Slot


class Severity(StrEnum):
    """How much a finding weighs."""

    FALLS_SHORT = "falls short"
    ADVISORY = "advisory"
    INFO = "info"


class Locking(StrEnum):
    """How a gate is locked, if at all."""

    NONE = "none"
    MANUAL = "manual"
    AUTO = "auto"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing to know about a stamp and the standard it claims.

    Attributes:
        severity: `falls short` only for a sourced, firm demand; the figure is then to be looked
            at again as a misreading or a counterfeit.
        mark: the mark that claims the standard.
        sentence: what to tell the person.
        slot: direction of load it is about; `None` for the mark itself or the gate.
        demanded: the minimum, in `unit`, as the standard prints it for the unit stamped.
        unit: `kN` or `lbf`.
        stamped: the figure as stamped; `None` if none is known.
        source: where the demand was read, in words.
        confidence: how well it is sourced.
    """

    severity: Severity
    mark: str
    sentence: str
    slot: Slot | None = None
    demanded: Decimal | None = None
    unit: str = ""
    stamped: Strength | None = None
    source: str = ""
    confidence: Confidence | None = None


def short_slots(findings: Iterable[Finding]) -> frozenset[Slot]:
    """Directions whose stamped figure falls short of a claimed standard."""
    return frozenset(
        f.slot for f in findings if f.severity is Severity.FALLS_SHORT and f.slot is not None
    )


def locking_of(gate: str) -> Locking | None:
    """How a gate is locked, from its kind in trade words; `None` if the words do not tell.

    Example: `screw gate` locks by hand, `twist lock` and `auto-lock` by themselves, a `wire gate`
    not at all.
    """
    words = gate.lower().replace("-", " ")
    for locking, signs in _SIGNS:
        if any(sign in words for sign in signs):
            return locking
    return None


_SIGNS: tuple[tuple[Locking, tuple[str, ...]], ...] = (
    (Locking.NONE, ("non lock", "not lock", "no lock", "nonlock", "without lock")),
    (Locking.AUTO, ("auto", "twist", "triple", "double", "self lock", "two stage", "three stage")),
    (Locking.MANUAL, ("screw", "sleeve", "manual", "threaded")),
    (Locking.NONE, ("wire", "straight", "bent", "snap", "plain")),
)

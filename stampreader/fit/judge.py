"""Whether a connector is fit for a use, and every reason why it is not."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from stampreader.fit.uses import Gate, Use
from stampreader.standards import (
    NO_THIRD_PARTY,
    Locking,
    locking_of,
    read_claim,
    third_party_marks,
)
from stampreader.words import SLOTS, Slot

_LOCKS = {
    Gate.LOCKING: (Locking.MANUAL, Locking.AUTO),
    Gate.SELF_LOCKING: (Locking.AUTO,),
}


@dataclass(frozen=True, slots=True)
class Candidate:
    """What is known of a connector.

    Attributes:
        id: readable id.
        bars: why it may not be used at all, such as quarantined or overdue.
        gate, shape: as recorded, empty if not.
        marks: standard marks in normal form.
        closed, cross, open: figures in kN, `None` if not known.
    """

    id: str
    bars: tuple[str, ...] = ()
    gate: str = ""
    shape: str = ""
    marks: tuple[str, ...] = ()
    closed: Decimal | None = None
    cross: Decimal | None = None
    open: Decimal | None = None

    def kN(self, slot: Slot) -> Decimal | None:
        """The figure of one direction."""
        return {Slot.CLOSED: self.closed, Slot.CROSS: self.cross, Slot.OPEN: self.open}[slot]


def unfit(candidate: Candidate, use: Use) -> tuple[str, ...]:
    """Why a connector does not do for a use; nothing if it does.

    What is not known never counts in favour: an unrecorded gate does not lock, a missing figure
    does not reach any minimum.
    """
    return (
        *candidate.bars,
        *_gate(candidate, use),
        *_shape(candidate, use),
        *_marks(candidate, use),
        *_figures(candidate, use),
    )


def _gate(candidate: Candidate, use: Use) -> Iterator[str]:
    if gate_does(candidate.gate, use):
        return
    if locking_of(candidate.gate) is None:
        yield f"whether its gate locks is not recorded ({candidate.gate or 'no kind of gate'})"
    elif use.gate is Gate.SELF_LOCKING:
        yield f"its gate does not lock by itself ({candidate.gate})"
    else:
        yield f"its gate does not lock ({candidate.gate})"


def gate_does(gate: str, use: Use) -> bool:
    """Whether a kind of gate does for a use."""
    return use.gate is Gate.ANY or locking_of(gate) in _LOCKS[use.gate]


def _shape(candidate: Candidate, use: Use) -> Iterator[str]:
    if not use.shapes or shape_does(candidate.shape, use):
        return
    if _any(use.instead_of_shape, candidate.marks):
        return
    also = f" or marked {' or '.join(use.instead_of_shape)}" if use.instead_of_shape else ""
    yield f"its shape is {candidate.shape or 'not recorded'}, not {_or(use.shapes)}{also}"


def shape_does(shape: str, use: Use) -> bool:
    """Whether a shape does for a use: one of the rule's words stands in it."""
    words = " ".join(re.split(r"\W+", shape.lower()))
    return not use.shapes or any(f" {wanted} " in f" {words} " for wanted in use.shapes)


def _marks(candidate: Candidate, use: Use) -> Iterator[str]:
    if use.one_of and not _any(use.one_of, candidate.marks):
        yield f"no mark {_or(use.one_of)}"
    for wanted in use.all_of:
        if not _any((wanted,), candidate.marks):
            yield f"no mark {wanted}"
    if use.third_party and not third_party_marks(candidate.marks):
        yield NO_THIRD_PARTY


def _any(wanted: Sequence[str], marks: Sequence[str]) -> bool:
    return any(mark_does(rule, mark) for rule in wanted for mark in marks)


def mark_does(rule: str, mark: str) -> bool:
    """Whether a stamped mark is what a rule names; what the rule leaves open may be anything.

    Example: `NFPA G` is met by `NFPA 1983 G` and `NFPA 2500 G`, `EN 362` by `EN 362:2004/B`, `CE`
    by `CE 9123`.
    """
    asked, found = read_claim(rule), read_claim(mark)
    if asked is None or found is None:
        return _same_conformity(rule, mark)
    return (
        asked.standard == found.standard
        and asked.year in (None, found.year)
        and asked.letter in ("", found.letter)
    )


def _same_conformity(rule: str, mark: str) -> bool:
    asked, found = (" ".join(text.upper().split()) for text in (rule, mark))
    return asked == found or (asked in ("CE", "UKCA") and found.startswith(f"{asked} "))


def _figures(candidate: Candidate, use: Use) -> Iterator[str]:
    for slot in SLOTS:
        least = use.least.get(slot)
        figure = candidate.kN(slot)
        if least is None or (figure is not None and figure >= least):
            continue
        has = "not known" if figure is None else f"{figure} kN"
        yield f"{slot} strength is {has}, {least} kN or more is asked"


def _or(words: Sequence[str]) -> str:
    return " or ".join(words)

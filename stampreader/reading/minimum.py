"""The published minimum as a veto: a figure below what its own mark claims is never sure.

The minimum only takes trust away. It never repairs a digit, since that would hide just the
misreading, or the counterfeit, it is there to show.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from stampreader.standards import Finding, Severity, check, read_claim, short_slots
from stampreader.standards.claim import demands_of
from stampreader.words import SLOTS, Doubt, Figure, Stamp, State


def below_minimum(stamp: Stamp) -> Stamp:
    """The stamp with every figure that falls short of a claimed standard made `ask`, and why."""
    findings = _findings(stamp)
    short = short_slots(findings)
    if not short:
        return stamp
    figures = {slot: stamp.figure(slot) for slot in SLOTS}
    doubted = {slot: _doubted(figures[slot]) for slot in short}
    notes = [f.sentence for f in findings if f.severity is Severity.FALLS_SHORT]
    return replace(
        stamp,
        **{slot.value: figure for slot, figure in doubted.items()},  # type: ignore[arg-type]
        notes=(*stamp.notes, *notes),
    )


def demands(stamp: Stamp) -> Iterator[str]:
    """What each claimed standard demands and whether the figures read reach it, in sentences.

    What falls short is among the stamp's notes already and is not said twice.
    """
    findings = _findings(stamp)
    for mark in stamp.marks:
        claim = read_claim(mark.text)
        firm = [] if claim is None else [d for d in demands_of(claim) if d.slot and not d.doubt]
        if firm:
            least = ", ".join(f"{d.slot} {d.kN:f} kN" for d in firm)
            yield f"{mark.text} demands at least {least}: {_verdict(findings, mark.text)}."
    yield from (f.sentence for f in findings if f.severity is Severity.ADVISORY)


def _verdict(findings: tuple[Finding, ...], mark: str) -> str:
    own = [f for f in findings if f.mark == mark and f.slot is not None and f.demanded is not None]
    if any(f.severity is Severity.FALLS_SHORT for f in own):
        return "a figure falls short"
    if any(f.stamped is None for f in own):
        return "not every figure is known"
    return "reached by the figures read"


def _findings(stamp: Stamp) -> tuple[Finding, ...]:
    figures = {slot: stamp.figure(slot).kN for slot in SLOTS}
    return check(stamp.marks, figures)


def _doubted(figure: Figure) -> Figure:
    """The figure with the named doubt; `sure` becomes `ask`, what is worse stays."""
    state = State.ASK if figure.state is State.SURE else figure.state
    return replace(figure, state=state, doubts=(*figure.doubts, Doubt.BELOW_STANDARD))

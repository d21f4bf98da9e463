"""Stamped figures against what the claimed standards demand."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal

from stampreader.standards.claim import Claim, demands_of, read_claim
from stampreader.standards.conformity import check_claim, check_conformity
from stampreader.standards.finding import Finding, Locking, Severity
from stampreader.standards.sources import SOURCES, Confidence
from stampreader.standards.tables import Demand
from stampreader.units import Strength, in_lbf
from stampreader.words import SLOTS, Mark, Slot

SLOT_WORDS: dict[Slot | None, str] = {
    Slot.CLOSED: "closed",
    Slot.CROSS: "cross-loaded",
    Slot.OPEN: "with the gate open",
    None: "on the gate",
}

_LOOK_AGAIN = (
    "That is a misreading or a counterfeit: look again, and do not use it until that is settled."
)
_UNLESS_AUTO = " (A gate that locks by itself has no such minimum.)"


def check(
    marks: Iterable[Mark | str],
    figures: Mapping[Slot, Strength | Decimal | None],
    *,
    locking: Locking | None = None,
    gate: Strength | None = None,
    made_year: int | None = None,
) -> tuple[Finding, ...]:
    """What the standards claimed by the marks say about the figures, gravest first.

    A figure is compared with the minimum in the unit it is stamped in. Only a sourced and firm
    demand finds it short; demands from memory, and those that may not apply, are advisories. A
    figure that is missing is never short: it is mentioned.

    Args:
        marks: standard marks in normal form.
        figures: strengths by direction; a plain `Decimal` is kN as stamped.
        locking: how the gate is locked, if known; a self-locking gate lifts some demands.
        gate: force stamped for the gate itself, if there is such a figure.
        made_year: year it was made, if known.
    """
    texts = [mark if isinstance(mark, str) else mark.text for mark in marks]
    stamped = {slot: _strength(figures.get(slot)) for slot in SLOTS}
    claims = [claim for claim in map(read_claim, texts) if claim is not None]
    findings = [
        *(f for claim in claims for f in _check_figures(claim, stamped, gate, locking)),
        *(f for claim in claims for f in check_claim(claim, locking)),
        *check_conformity(texts, claims, made_year),
    ]
    gravity = list(Severity)
    return tuple(sorted(findings, key=lambda f: gravity.index(f.severity)))


def _strength(figure: Strength | Decimal | None) -> Strength | None:
    """A figure with its unit."""
    return Strength(figure) if isinstance(figure, Decimal) else figure


def _check_figures(
    claim: Claim,
    stamped: Mapping[Slot, Strength | None],
    gate: Strength | None,
    locking: Locking | None,
) -> list[Finding]:
    """One finding at most for each direction: the gravest."""
    demands = demands_of(claim)
    findings = []
    for slot in (*SLOTS, None):
        figure = gate if slot is None else stamped[slot]
        of_slot = [demand for demand in demands if demand.slot is slot]
        if of_slot:
            found = [_compare(claim, demand, figure, locking) for demand in of_slot]
            findings += sorted(filter(None, found), key=_gravity)[:1]
        elif figure is not None and demands:
            findings.append(_no_demand(claim, slot, figure))
    return findings


def _gravity(finding: Finding) -> int:
    """Position of a finding's severity, gravest first."""
    return list(Severity).index(finding.severity)


def _compare(
    claim: Claim, demand: Demand, figure: Strength | None, locking: Locking | None
) -> Finding | None:
    """What one demand says about one figure; `None` if the figure meets it."""
    if figure is None:
        return _missing(claim, demand)
    if meets(figure, demand):
        return None
    reason = _why_not_firm(demand, figure, locking)
    minimum, unit = _printed(demand, figure.unit)
    lead = f"{claim.text} demands at least {minimum} {unit} {SLOT_WORDS[demand.slot]}"
    but = f", but {figure} is stamped."
    unless = _UNLESS_AUTO if demand.auto_exempt and not reason else ""
    return Finding(
        Severity.ADVISORY if reason else Severity.FALLS_SHORT,
        claim.text,
        f"{lead}{but} " + (f"Not a verdict: {reason}." if reason else _LOOK_AGAIN + unless),
        demand.slot,
        minimum,
        unit,
        figure,
        SOURCES[demand.source],
        demand.confidence,
    )


def meets(figure: Strength, demand: Demand) -> bool:
    """Whether a figure reaches a demand in either of the units the standard prints it in.

    Example: 16 kN and 3600 lbf both meet the pair 16 kN (3,600 lbf), though 16 kN is 3,596.9 lbf.
    """
    if figure.kN >= demand.kN:
        return True
    return demand.lbf is not None and in_lbf(figure.kN) >= demand.lbf


def _why_not_firm(demand: Demand, figure: Strength, locking: Locking | None) -> str:
    """Why a figure below a demand is not called short; empty if it is."""
    if demand.confidence is Confidence.MEMORY:
        return "this minimum is " + Confidence.MEMORY.value
    if demand.auto_exempt and locking is Locking.AUTO:
        return "a gate that locks by itself has no such minimum"
    if figure.amount == int(demand.kN) and figure.unit == "kN" and demand.kN != int(demand.kN):
        return "it may be the exact figure cut to whole kN; ask the maker"
    return demand.doubt


def _printed(demand: Demand, unit: str) -> tuple[Decimal, str]:
    """The minimum as the standard prints it for the unit stamped."""
    if unit == "lbf" and demand.lbf is not None:
        return demand.lbf, "lbf"
    return demand.kN, "kN"


def _missing(claim: Claim, demand: Demand) -> Finding | None:
    """A demand for which no figure is known; not for the gate, which is seldom stamped."""
    if demand.slot is None or demand.doubt:
        return None
    sentence = (
        f"{claim.text} demands at least {demand.kN} kN {SLOT_WORDS[demand.slot]}; "
        "no such figure is known for this connector."
    ) + (_UNLESS_AUTO if demand.auto_exempt else "")
    return Finding(
        Severity.INFO,
        claim.text,
        sentence,
        demand.slot,
        demand.kN,
        "kN",
        None,
        SOURCES[demand.source],
        demand.confidence,
    )


def _no_demand(claim: Claim, slot: Slot | None, figure: Strength) -> Finding:
    """A figure the standard says nothing about."""
    sentence = f"{claim.text} has no minimum {SLOT_WORDS[slot]}; it does not judge the {figure}."
    return Finding(Severity.INFO, claim.text, sentence, slot, stamped=figure)

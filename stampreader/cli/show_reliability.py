"""The reliability of `sure` in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any

from stampreader.figures.bound import PROMISE, trials_needed, upper_bound
from stampreader.register.reliability import SureFigure, counted, threshold_above


def report(figures: Sequence[Sequence[SureFigure]], least: Decimal) -> dict[str, Any]:
    """Counts, bound and verdict: `kept`, `too-few` (no bound yet) or `broken`.

    Args:
        figures: figures read as sure, a list a connector.
        least: the team's setting `ask_below`; what is below it is asked about already.
    """
    connectors, wrong = counted(figures, least)
    bound = upper_bound(wrong, connectors)
    broken = bound > PROMISE and wrong > 0
    raised = threshold_above(figures) if broken else None
    left = counted(figures, raised)[0] if raised is not None else 0
    return {
        "connectors": connectors,
        "wrong": wrong,
        "bound": bound,
        "promise": PROMISE,
        "needed": trials_needed(wrong),
        "verdict": "broken" if broken else "too-few" if bound > PROMISE else "kept",
        "ask_below": least,
        "raise_to": raised,
        "raised_connectors": left,
        "raised_bound": upper_bound(0, left) if raised is not None else None,
        "differing": [
            {
                "id": f.id,
                "slot": f.slot,
                "read_kN": f.read_kN,
                "kN": f.kN,
                "confidence": f.confidence,
            }
            for own in figures
            for f in own
            if f.wrong and f.confidence >= least
        ],
    }


def report_lines(found: Mapping[str, Any]) -> Iterator[str]:
    """The report for a person."""
    n, wrong = found["connectors"], found["wrong"]
    if n == 0:
        yield "No figure that was read as sure has been confirmed yet; nothing is known."
        return
    yield f"Connectors with a figure read as sure: {n}; wrong on {wrong} of them."
    bound = _share(found["bound"])
    yield f"At 95 % confidence sure is wrong on no more than {bound} of connectors."
    for row in found["differing"]:
        kept = "nothing" if row["kN"] is None else f"{row['kN']} kN"
        yield f"  {row['id']}: {row['slot']} read as {row['read_kN']} kN, confirmed as {kept}."
    yield from _verdict(found)
    yield "A figure waved through unread counts as right here: look at the stamps."


def _verdict(found: Mapping[str, Any]) -> Iterator[str]:
    promise = _share(found["promise"])
    if found["verdict"] == "kept":
        yield f"The promise of {promise} is kept."
    elif found["verdict"] == "too-few":
        yield f"Too few to show the promise of {promise}: it takes {found['needed']}, none wrong."
    else:
        yield f"The promise of {promise} is not kept by these photos."
        if found["raise_to"] is None:
            yield "No threshold helps: look at every figure yourself, also where it is sure."
        else:
            yield (
                f"Raise the threshold: stampreader settings ask_below {found['raise_to']}; "
                f"it keeps {found['raised_connectors']} connectors sure, none of them wrong so far "
                f"(no more than {_share(found['raised_bound'])})."
            )


def _share(share: float) -> str:
    return f"{100 * share:.2f} %"

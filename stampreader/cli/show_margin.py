"""Margins on the screen: one table, weakest first, or JSON Lines."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import typer

from stampreader.cli.common import emit_json, show_caution
from stampreader.cli.margins import Answer
from stampreader.margin import ConnectorMargin, SlotMargin, Verdict
from stampreader.units import in_lbf, round_up
from stampreader.words import CAUTION

LINE = "  {:<7} {:<9} {:<8} {:<28} {}"
STYLES: dict[Verdict, dict[str, Any]] = {
    Verdict.ALLOWED: {"fg": "blue"},
    Verdict.NOT_ALLOWED: {"fg": "red", "bold": True},
    Verdict.UNKNOWN: {"fg": "yellow", "bold": True},
}


def show_margins(answer: Answer, *, as_json: bool) -> None:
    """Print the margins of all connectors, weakest first."""
    if as_json:
        emit_json(_row(answer, connector) for connector in answer.connectors)
    elif answer.connectors:
        for line in (*_heading(answer), *_lines(answer)):
            typer.echo(line)
        show_caution()


def _heading(answer: Answer) -> Iterator[str]:
    """What the margins rest on."""
    kN, lbf = round_up(answer.load.kN, 2), round_up(in_lbf(answer.load.kN), 0)
    origin = ", from the settings" if answer.is_set else ""
    yield f"Load {answer.load}: {kN} kN, {lbf} lbf, taken to pull in each direction in turn."
    yield f"Ratio {answer.ratio}:1{origin}. A person with kit counts {answer.person_kN} kN."
    yield "Strengths as stamped. Loads are rounded up, margins and allowed loads cut off."
    yield ""


def _lines(answer: Answer) -> Iterator[str]:
    """All connectors, a line for each direction; nothing is ever cut to fit a screen."""
    allowed = f"allowed at {answer.ratio}:1"
    yield LINE.format("", "strength", "margin", allowed, "verdict")
    for connector in answer.connectors:
        yield typer.style(connector.name, bold=True)
        for slot in connector.slots:
            yield LINE.format(*_cells(slot), typer.style(slot.verdict, **STYLES[slot.verdict]))
        if connector.name in answer.bars:
            bar = f"  It is {answer.bars[connector.name]}: a margin does not change that."
            yield typer.style(bar, fg="red", bold=True)
        yield from (f"  ! {remark}" for remark in answer.remarks.get(connector.name, ()))
        yield ""


def _cells(slot: SlotMargin) -> tuple[str, str, str, str]:
    """One direction: its name, strength, margin and allowed load."""
    if slot.strength is None:
        return slot.slot.value, "-", "unknown", "nothing"
    people = f"{slot.allowed_people} " + ("person" if slot.allowed_people == 1 else "people")
    allowed = f"{slot.allowed_kN} kN  {slot.allowed_lbf} lbf  {people}"
    return slot.slot.value, str(slot.strength), str(slot.margin or "-"), allowed


def _row(answer: Answer, connector: ConnectorMargin) -> dict[str, Any]:
    """One connector as its JSON object."""
    judged = [slot.verdict for slot in connector.slots if slot.slot in answer.judged]
    return {
        "connector": connector.name,
        "load": str(answer.load),
        "load_kN": round_up(answer.load.kN, 4),
        "load_lbf": round_up(in_lbf(answer.load.kN), 0),
        "ratio": answer.ratio,
        "person_kN": answer.person_kN,
        "figures": {slot.slot.value: _figure(slot) for slot in connector.slots},
        "weakest": connector.weakest.slot.value,
        "judged": list(answer.judged),
        "verdict": next((v for v in reversed(Verdict) if v in judged), Verdict.UNKNOWN),
        "not_to_be_used": answer.bars.get(connector.name),
        "remarks": list(answer.remarks.get(connector.name, ())),
        "caution": CAUTION,
    }


def _figure(slot: SlotMargin) -> dict[str, Decimal | int | str | None]:
    """One direction as JSON; `kN` as stamped, the rest rounded to the safe side."""
    return {
        "kN": None if slot.strength is None else slot.strength.kN,
        "stamped": None if slot.strength is None else str(slot.strength),
        "margin": slot.margin,
        "allowed_kN": slot.allowed_kN,
        "allowed_lbf": slot.allowed_lbf,
        "allowed_people": slot.allowed_people,
        "verdict": slot.verdict,
    }

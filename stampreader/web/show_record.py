"""A connector of the register as the page shows it: state, figures, margin. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from stampreader.errors import UsageError
from stampreader.margin import SlotMargin, Strengths, Verdict, judge_connector
from stampreader.register import (
    LIFE_WORDS,
    Connector,
    Event,
    Intervals,
    Life,
    Settings,
    next_due,
)
from stampreader.units import in_lbf, round_up
from stampreader.web.show_question import FIGURE_WORDS
from stampreader.words import SLOTS

MOST_LOAD_kN = Decimal(30)
STEP_kN = Decimal("0.1")
FIT = (Life.REGISTERED, Life.IN_SERVICE)


@dataclass(frozen=True, slots=True)
class StateShown:
    """A connector's state at a glance: a sign, a headline, and what follows from it.

    Attributes:
        sign: name of the drawing: `fit`, `soon`, `overdue`, `stop`, `gone`, `lost` or `new`.
        headline: one or two words.
        told: a sentence.
    """

    sign: str
    headline: str
    told: str


@dataclass(frozen=True, slots=True)
class MarginRow:
    """The margin in one direction, rounded to the safe side."""

    slot: str
    meaning: str
    strength: str
    margin: str
    allowed: str
    verdict: str
    keeps: bool


@dataclass(frozen=True, slots=True)
class MarginShown:
    """Margins under one load: `load` in kN, the rows, and why it may not be used at all."""

    load: str
    lbf: str
    ratio: str
    rows: tuple[MarginRow, ...]
    barred: str


def state_shown(
    connector: Connector, intervals: Intervals, settings: Settings, today: date
) -> StateShown:
    """The state of a connector, overdue and soon due told apart."""
    why = f" ({connector.life_reason})" if connector.life_reason else ""
    out = _OUT_OF_USE.get(connector.life)
    if out is not None:
        return StateShown(out[0], out[1], f"{_sentence(LIFE_WORDS[connector.life])}{why}.")
    due_on = next_due(connector, intervals)
    if due_on is not None and due_on < today:
        days = (today - due_on).days
        return StateShown(
            "overdue", "Overdue", f"Its inspection was due on {due_on}, {_days(days)} ago."
        )
    if due_on is not None and due_on <= today + timedelta(days=settings.due_soon_days):
        days = (due_on - today).days
        when = "today" if days == 0 else f"on {due_on}, in {_days(days)}"
        return StateShown("soon", "Due soon", f"Its inspection is due {when}.")
    next_one = f" Next inspection {due_on}." if due_on is not None else ""
    if connector.life is Life.REGISTERED:
        return StateShown("new", "Not in service", f"Registered, not yet in service.{next_one}")
    return StateShown("fit", "In service", next_one.strip())


_OUT_OF_USE = {
    Life.QUARANTINED: ("stop", "Quarantined"),
    Life.RETIRED: ("gone", "Retired"),
    Life.LOST: ("lost", "Lost"),
    Life.WITHDRAWN: ("gone", "Withdrawn"),
}


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def _days(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"


def load_from(text: str) -> Decimal:
    """A load in kN from the slider.

    Raises:
        UsageError: not a number from 0.1 to 30.
    """
    try:
        load = Decimal(text) if len(text) <= 8 else Decimal(0)
    except ArithmeticError:
        load = Decimal(0)
    if not load.is_finite() or not STEP_kN <= load <= MOST_LOAD_kN:
        raise UsageError(
            "the load is not understood", remedy=f"Give kN from {STEP_kN} to {MOST_LOAD_kN}."
        )
    return load


def margin_shown(
    connector: Connector, state: StateShown, load_kN: Decimal, settings: Settings
) -> MarginShown:
    """The margins of a connector in its three directions under one load."""
    strengths = Strengths.from_kN(connector.closed_kN, connector.cross_kN, connector.open_kN)
    judged = judge_connector(connector.id, strengths, load_kN, settings.ratio, settings.person_kN)
    barred = ""
    if connector.life not in FIT or state.sign == "overdue":
        barred = f"{state.headline}: a margin does not change that."
    return MarginShown(
        load=str(round_up(load_kN, 1)),
        lbf=str(round_up(in_lbf(load_kN), 0)),
        ratio=f"{settings.ratio.normalize():f}:1",
        rows=tuple(_row(slot) for slot in judged.slots),
        barred=barred,
    )


def _row(slot: SlotMargin) -> MarginRow:
    name, meaning = FIGURE_WORDS[slot.slot]
    known = slot.strength is not None
    return MarginRow(
        slot=name,
        meaning=meaning,
        strength=f"{slot.strength.amount} kN" if slot.strength is not None else "unknown",
        margin=str(slot.margin) if known and slot.margin is not None else "unknown",
        allowed=f"{slot.allowed_kN} kN, {slot.allowed_lbf} lbf" if known else "nothing",
        verdict=slot.verdict.value,
        keeps=slot.verdict is Verdict.ALLOWED,
    )


def facts(connector: Connector) -> Iterator[tuple[str, str]]:
    """What the register holds of a connector, in words; empty fields are left out."""
    for name in (
        *("maker", "model", "serial", "batch", "made_on", "shape", "material", "gate"),
        *("place", "delivery", "registered_on", "in_service_on", "inspected_on", "note"),
    ):
        value = getattr(connector, name)
        if value:
            yield name.replace("_", " "), str(value)


def figures_shown(connector: Connector) -> tuple[tuple[str, str, str], ...]:
    """(slot, meaning, value) of the three confirmed figures; the value empty where unknown."""
    rows = []
    for slot in SLOTS:
        kN = connector.kN(slot)
        rows.append((*FIGURE_WORDS[slot], "" if kN is None else str(kN)))
    return tuple(rows)


def history_shown(events: list[Event]) -> tuple[tuple[str, str, str], ...]:
    """(day, what, who) of the latest events, newest first."""
    return tuple(
        (event.happened_on, str(event.kind).replace("-", " "), event.who)
        for event in reversed(events)
    )

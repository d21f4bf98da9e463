"""From the register to the values of a report: cards and list lines, in words for people."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from stampreader.margin import Strengths, judge_connector
from stampreader.register import (
    LIFE_WORDS,
    Connector,
    Due,
    Event,
    Intervals,
    Kind,
    Life,
    Register,
    events_on,
    find_connector,
    first_crop,
    last_event,
    next_due,
    photo_name,
    read_crop,
    read_intervals,
)
from stampreader.report.card import (
    Card,
    Evidence,
    FigureLine,
    HistoryLine,
    InspectionLine,
    MarginLine,
)
from stampreader.report.inspection import InspectedLine, InspectionDay
from stampreader.report.lists import DueLine, ListLine
from stampreader.standards import NO_THIRD_PARTY, Severity, check, locking_of, third_party_marks
from stampreader.units import round_up
from stampreader.words import SLOTS, Slot

_STOPPED = (Life.QUARANTINED, Life.LOST, Life.RETIRED, Life.WITHDRAWN)


def state_of(register: Register) -> str:
    """Which state of the register a page shows: its last entry, whose hash pins all before it."""
    last = last_event(register)
    if last is None:
        return "register without entries"
    return f"register up to entry {last.id}, {last.hash[:12]}"


def name_of(connector: Connector) -> str:
    """Maker and model."""
    return " ".join(filter(None, (connector.maker, connector.model)))


def _plain_life(connector: Connector) -> str:
    return str(connector.life).replace("-", " ")


def list_line(connector: Connector, due_on: date | None = None) -> ListLine:
    """A connector as a line of the register's list."""
    return ListLine(
        id=connector.id,
        name=name_of(connector),
        serial=connector.serial,
        batch=connector.batch,
        closed_kN=connector.closed_kN,
        cross_kN=connector.cross_kN,
        open_kN=connector.open_kN,
        marks=_flagged_marks(connector),
        state=_plain_life(connector),
        place=connector.place,
        next_due=due_on,
    )


def _flagged_marks(connector: Connector) -> tuple[str, ...]:
    """The marks, and in words if nobody but the maker stands behind them."""
    flag = () if third_party_marks(connector.marks) else (f"({NO_THIRD_PARTY})",)
    return (*connector.marks, *flag)


def _flagged_name(connector: Connector) -> str:
    """Maker and model, and in words if nobody but the maker stands behind it."""
    flag = "" if third_party_marks(connector.marks) else f"({NO_THIRD_PARTY})"
    return " ".join(filter(None, (name_of(connector), flag)))


def card_of(
    register: Register,
    connector: Connector,
    *,
    due_on: date | None = None,
    load_kN: Decimal | Fraction | None = None,
    ratio: Decimal | None = None,
) -> Card:
    """Everything the register holds of a connector, as its record card shows it.

    Args:
        register: the register.
        connector: with its photos, as `find_connector` gives it.
        due_on: day of its next inspection.
        load_kN, ratio: for the margins; without them none are shown.

    Raises:
        RegisterError: an evidence picture is missing or was altered.
    """
    history = register.history(connector.uid)
    return Card(
        id=connector.id,
        state=LIFE_WORDS[connector.life],
        maker=connector.maker,
        model=connector.model,
        shape=connector.shape,
        gate=connector.gate,
        material=connector.material,
        serial=connector.serial,
        batch=connector.batch,
        made_on=connector.made_on,
        delivery=connector.delivery,
        in_service_on=day_of(connector.in_service_on),
        place=connector.place,
        next_due=due_on,
        figures=tuple(_figure(connector, slot, history) for slot in SLOTS),
        marks=connector.marks,
        findings=_findings(connector),
        warnings=_warnings(connector),
        evidence=_evidence(register, connector, history),
        history=tuple(map(_history_line, reversed(history))),
        inspections=tuple(
            _inspection_line(event) for event in reversed(history) if event.kind is Kind.INSPECTED
        ),
        margins=_margins(connector, load_kN, ratio),
        ratio=ratio,
    )


def day_of(text: str) -> date | None:
    """A day as the register keeps it; `None` for none."""
    return date.fromisoformat(text) if text else None


def due_line(due: Due) -> DueLine:
    """A connector as a line of the due list."""
    connector = due.connector
    return DueLine(
        id=connector.id,
        due_on=due.due_on,
        name=_flagged_name(connector),
        place=connector.place,
        last_on=day_of(connector.inspected_on),
        state=_plain_life(connector),
    )


def inspection_day(register: Register, day: date) -> InspectionDay:
    """The inspections recorded for a day, with the faults and measurements found."""
    intervals = read_intervals(register)
    events = events_on(register, Kind.INSPECTED, day)
    lines = tuple(
        _inspected_line(register, find_connector(register, str(event.connector)), event, intervals)
        for event in events
    )
    points = (str(p["point"]) for event in events for p in event.body.get("points", ()))
    return InspectionDay(day, lines, tuple(dict.fromkeys(points)))


def _inspected_line(
    register: Register, connector: Connector, event: Event, intervals: Intervals
) -> InspectedLine:
    failed = _points(event, "fail")
    taken = [(read["photo"], read["stamp"], read["crop"]) for read in event.body.get("read", ())]
    crop = first_crop(register, (*taken, *connector.photos)) if failed else None
    return InspectedLine(
        id=connector.id,
        result=str(event.body.get("result", "")),
        name=_flagged_name(connector),
        place=connector.place,
        who=event.who,
        failed=failed,
        remarks=(*_points(event, "pass"), *filter(None, (str(event.body.get("note", "")),))),
        measured=_measured(event.body),
        action=_plain_life(connector) if failed else "",
        next_due=None if failed else next_due(connector, intervals),
        picture=crop.picture if crop else None,
    )


def _points(event: Event, result: str) -> tuple[str, ...]:
    """Points of an inspection with this result: all that failed, those that passed with a note."""
    return tuple(
        f"{point['point']}: {point['note']}" if point.get("note") else str(point["point"])
        for point in event.body.get("points", ())
        if point.get("result") == result and (result == "fail" or point.get("note"))
    )


def _measured(body: Mapping[str, Any]) -> tuple[str, ...]:
    return tuple(f"{name} {value}" for name, value in body.get("measured", {}).items())


def _inspection_line(event: Event) -> InspectionLine:
    found = (*_points(event, "fail"), *_points(event, "pass"), *_measured(event.body))
    note = str(event.body.get("note", ""))
    return InspectionLine(
        day=date.fromisoformat(event.happened_on),
        who=event.who,
        result=str(event.body.get("result", "")),
        findings="; ".join((*found, *filter(None, (note,)))),
    )


def _figure(connector: Connector, slot: Slot, history: Sequence[Event]) -> FigureLine:
    kN = connector.kN(slot)
    return FigureLine(slot.value, kN, _origin(connector, slot, history) if kN is not None else "")


def _origin(connector: Connector, slot: Slot, history: Sequence[Event]) -> str:
    """Where the present figure comes from: the event that last set it, and what was read."""
    name = f"{slot.value}_kN"
    setting = [event for event in history if name in event.body.get("fields", {})]
    if not setting:
        return ""
    last = setting[-1]
    by = f"by {last.who} on {last.happened_on}"
    if last.kind is Kind.CORRECTED:
        return f"Corrected {by}."
    if connector.by_hand:
        return f"Entered by hand {by}, without a photo."
    read = _read_values(last, slot)
    seen = f"Read as {', '.join(dict.fromkeys(read))}; confirmed" if read else "Confirmed"
    return f"{seen} {by}."


def _read_values(event: Event, slot: Slot) -> list[str]:
    figures = (read["raw"]["figures"][slot.value] for read in event.body.get("read", ()))
    return [f"{figure['kN']} ({figure['state']})" for figure in figures if figure["kN"] is not None]


def _findings(connector: Connector) -> tuple[str, ...]:
    figures = {slot: connector.kN(slot) for slot in SLOTS}
    found = check(connector.marks, figures, locking=locking_of(connector.gate))
    return tuple(f.sentence for f in found if f.severity is not Severity.INFO)


def _warnings(connector: Connector) -> tuple[str, ...]:
    warnings = [f"Stations disagree: {text}." for text in connector.conflicts]
    if connector.life in _STOPPED:
        reason = f": {connector.life_reason}" if connector.life_reason else ""
        warnings.insert(0, f"{LIFE_WORDS[connector.life].capitalize()}{reason}.")
    if connector.by_hand:
        warnings.append("Entered by hand, without a photo of its stamp.")
    if not third_party_marks(connector.marks):
        warnings.append(f"{NO_THIRD_PARTY.capitalize()}: only the maker speaks for it.")
    return tuple(warnings)


def _evidence(
    register: Register, connector: Connector, history: Sequence[Event]
) -> tuple[Evidence, ...]:
    reads = {
        (read["photo"], read["stamp"]): read
        for event in history
        for read in event.body.get("read", ())
    }
    return tuple(
        _one_evidence(register, photo, crop, reads.get((photo, stamp), {}))
        for photo, stamp, crop in connector.photos
        if crop
    )


def _one_evidence(register: Register, photo: str, crop: str, read: dict[str, Any]) -> Evidence:
    name, taken_on = photo_name(register, photo)
    raw = read.get("raw", {})
    figures = (
        f"{figure['kN']} kN {slot} ({figure['state']})"
        for slot, figure in raw.get("figures", {}).items()
        if figure["kN"] is not None
    )
    return Evidence(
        picture=read_crop(register, crop).picture,
        figures=", ".join((*figures, *raw.get("marks", ()))),
        photo=name,
        sha256=photo,
        taken_on=taken_on.replace("T", " "),
        reader=read.get("readers", ""),
    )


def _history_line(event: Event) -> HistoryLine:
    return HistoryLine(
        day=date.fromisoformat(event.happened_on),
        what=str(event.kind).replace("-", " "),
        who=event.who,
        detail=told(event),
        number=event.id,
    )


def told(event: Event) -> str:
    """What an event's body adds, in a few words."""
    body = event.body
    if event.kind is Kind.CORRECTED:
        changes = (
            f"{name} {_said(body.get('before', {}).get(name))} → {_said(value)}"
            for name, value in body.get("fields", {}).items()
        )
        return f"{'; '.join(changes)} ({body.get('why', '')})"
    if event.kind is Kind.REGISTERED:
        return "entered by hand" if body.get("by_hand") else f"{len(body.get('read', ()))} photo(s)"
    told_of = ("result", "place", "reason", "reference", "note")
    by = [f"by {body['competent_person']}"] if body.get("competent_person") else []
    return "; ".join((*by, *(str(body[name]) for name in told_of if body.get(name))))


def _said(value: Any) -> str:
    if isinstance(value, list | tuple):
        return ", ".join(map(str, value)) or "none"
    return "none" if value in (None, "") else str(value)


def _margins(
    connector: Connector, load_kN: Decimal | Fraction | None, ratio: Decimal | None
) -> tuple[MarginLine, ...]:
    if load_kN is None or ratio is None:
        return ()
    strengths = Strengths.from_kN(connector.closed_kN, connector.cross_kN, connector.open_kN)
    judged = judge_connector(connector.id, strengths, load_kN, ratio)
    barred = f"{_plain_life(connector)}, not to be used" if connector.life in _STOPPED else ""
    if connector.conflicts:
        barred = "stations disagree, not to be used until settled"
    return tuple(
        MarginLine(
            row.slot.value, None if row.strength is None else row.strength.kN,
            round_up(load_kN, 2), row.margin, row.allowed_kN,
            barred or str(row.verdict),
        )
        for row in judged.slots
    )  # fmt: skip

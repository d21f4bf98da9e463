"""Rows of a spreadsheet as entries of the register: planned row by row, then entered whole."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any

from stampreader.errors import ImportRefused, StampError
from stampreader.register.columns import STEPS
from stampreader.register.connectors import id_is_taken, new_ids
from stampreader.register.deriving import KN_FIELDS
from stampreader.register.entries import clean_fields, on_one_line
from stampreader.register.events import Event, Kind
from stampreader.register.life import clean_day, clean_note, clean_place
from stampreader.register.settings import read_settings
from stampreader.register.store import Register
from stampreader.register.table_file import Row, Spoilt, TableFile, Value, heading_at

Marks = Callable[[str], Sequence[str]]
"""Brings marks as typed into normal form; raises `UsageError` for what is no mark."""

_LIST_SIGNS = re.compile(r"[,;\n]+")


class Verdict(StrEnum):
    """What would happen with a row."""

    ENTER = "enter"
    KNOWN = "known"
    REFUSE = "refuse"


class DayOrder(StrEnum):
    """Order of day and month in days written with slashes."""

    ISO = "iso"
    DAY_FIRST = "dmy"
    MONTH_FIRST = "mdy"


@dataclass(frozen=True, slots=True)
class RowPlan:
    """What would happen with one row.

    Attributes:
        number: of the row in the file.
        verdict: whether it would be entered, was entered before, or is refused.
        reasons: why it is refused, one a cell.
        fields: of the entry.
        steps: life events, as days and texts.
    """

    number: int
    verdict: Verdict
    reasons: tuple[str, ...] = ()
    fields: Mapping[str, Any] = field(default_factory=dict)
    steps: Mapping[str, str] = field(default_factory=dict)


def plan_rows(
    register: Register,
    table: TableFile,
    columns: Mapping[int, str],
    *,
    marks: Marks,
    at: datetime,
    days: DayOrder = DayOrder.ISO,
) -> list[RowPlan]:
    """What would happen with each row of a spreadsheet; nothing is stored.

    Args:
        register: the register.
        table: the spreadsheet.
        columns: what each column is, from `map_columns`.
        marks: brings marks into normal form.
        at: the present time.
        days: order of day and month where days are written with slashes.
    """
    known = {
        int(row["number"])
        for row in register.rows(
            "SELECT json_extract(body, '$.row') AS number FROM events"
            " WHERE kind = ? AND json_extract(body, '$.file') = ?",
            [str(Kind.REGISTERED), table.sha256],
        )
    }
    planner = _Planner(register, table, columns, marks, at, days)
    return [
        RowPlan(row.number, Verdict.KNOWN) if row.number in known else planner.plan(row)
        for row in table.rows
    ]


class _Planner:
    """Plans rows one by one and remembers the ids and serials they hold."""

    def __init__(
        self,
        register: Register,
        table: TableFile,
        columns: Mapping[int, str],
        marks: Marks,
        at: datetime,
        days: DayOrder,
    ) -> None:
        self.register = register
        self.table = table
        self.columns = columns
        self.marks = marks
        self.at = at
        self.days = days
        self.ids: dict[str, int] = {}
        self.serials: dict[tuple[str, str], int] = {}

    def plan(self, row: Row) -> RowPlan:
        """What would happen with this row."""
        values, reasons = self._values(row)
        fields = {name: value for name, value in values.items() if name not in STEPS}
        steps = {name: str(values[name]) for name in STEPS if name in values}
        reasons += self._id_faults(row, str(fields.get("id", "")))
        reasons += self._twin_faults(row, fields)
        reasons += list(_step_faults(steps, str(fields.get("made_on", "")), self.at))
        if not reasons and not any(name in fields for name in ("maker", "model", *KN_FIELDS, "id")):
            reasons.append("has neither id, maker, model nor a strength")
        verdict = Verdict.REFUSE if reasons else Verdict.ENTER
        return RowPlan(row.number, verdict, tuple(reasons), fields, steps)

    def _values(self, row: Row) -> tuple[dict[str, Any], list[str]]:
        values: dict[str, Any] = {}
        reasons: list[str] = []
        for index, cell in enumerate(row.cells):
            target = self.columns.get(index)
            if target is None or cell is None or cell == "":
                continue
            heading = heading_at(self.table.headings, index)
            try:
                values |= self._one(target, cell)
            except StampError as error:
                reasons.append(f"{heading}: {error}")
        return values, reasons

    def _one(self, target: str, cell: Value) -> dict[str, Any]:
        """One cell as fields of the entry or of its life."""
        if isinstance(cell, Spoilt):
            raise ImportRefused(cell.reason)
        if target == "figures":
            return _figures(cell)
        if target in KN_FIELDS:
            return {target: clean_fields({target: _strength(cell)})[target]}
        if target == "marks":
            return {target: [m for part in _parts(str(cell)) for m in self.marks(part)]}
        if target == "made_on":
            return clean_fields({target: _month_or_day(cell, self.days)}, at=self.at)
        if target in ("in_service_on", "inspected_on", "retired_on"):
            return {target: _day(cell, self.days)}
        if target == "place":
            return {target: clean_place(str(cell))}
        if target == "retired_because":
            return {target: clean_note(str(cell), "the reason")}
        return clean_fields({target: str(cell)})

    def _id_faults(self, row: Row, id: str) -> list[str]:
        if not id:
            return []
        first = self.ids.setdefault(id.casefold(), row.number)
        if first != row.number:
            return [f"the id {id} stands in row {first} too"]
        if id_is_taken(self.register, id):
            return [f"the id {id} is taken by a connector of the register"]
        return []

    def _twin_faults(self, row: Row, fields: Mapping[str, Any]) -> list[str]:
        """A connector of this maker with this serial that is there already."""
        maker, serial = str(fields.get("maker", "")), str(fields.get("serial", ""))
        if not maker or not serial:
            return []
        first = self.serials.setdefault((maker.casefold(), serial.casefold()), row.number)
        if first != row.number:
            return [f"{maker} serial {serial} stands in row {first} too"]
        rows = self.register.rows(
            "SELECT id FROM connectors WHERE serial = ? AND maker = ? AND life != 'withdrawn'",
            [serial, maker],
        )
        return [f"{maker} serial {serial} is {found['id']} of the register" for found in rows[:1]]


def _parts(text: str) -> Iterator[str]:
    yield from filter(None, (part.strip() for part in _LIST_SIGNS.split(text)))


def _figures(cell: Value) -> dict[str, Any]:
    """Closed, cross and open in one cell, such as `27/8/7` or `27 / 8 / - kN`."""
    parts = [part.strip() for part in str(cell).strip().removesuffix("kN").split("/")]
    if len(parts) != 3:
        raise ImportRefused(f"'{cell}' is not three figures such as 27/8/7")
    given = dict(zip(KN_FIELDS, map(_strength, parts), strict=True))
    return {name: value for name, value in clean_fields(given).items() if value is not None}


def _strength(cell: Value) -> str:
    """A strength as stamped in kN; other units are not turned into what was not stamped."""
    text = str(cell).strip()
    found = re.fullmatch(r"(.*?)\s*(kn|lbf?|lbs|kg|kgf|dan)?\.?", text, re.IGNORECASE)
    number, unit = (found[1], found[2] or "") if found else (text, "")
    if unit and unit.casefold() != "kn":
        raise ImportRefused(f"'{text}' is in {unit}; give the figure as stamped in kN")
    if isinstance(cell, date):
        raise ImportRefused(f"'{text}' is a day, not a strength in kN")
    return number


def _day(cell: Value, order: DayOrder) -> str:
    """A day in the stored form."""
    text = _written_day(cell, order)
    return clean_day(text)


def _month_or_day(cell: Value, order: DayOrder) -> str:
    """A date of manufacture: year, month or day."""
    text = str(cell).strip()
    month = re.fullmatch(r"(\d{1,2})[./-](\d{4})", text, re.ASCII)
    if month and not isinstance(cell, date | Decimal):
        return f"{month[2]}-{int(month[1]):02d}"
    return text if re.fullmatch(r"\d{4}(-\d\d)?", text) else _written_day(cell, order)


def _written_day(cell: Value, order: DayOrder) -> str:
    """A day as ISO text; `5.6.2024` has the day first, `5/6/2024` only where the order is said."""
    if isinstance(cell, date):
        return cell.isoformat()
    text = str(cell).strip()
    dotted = re.fullmatch(r"(\d{1,2})\.(\d{1,2})\.(\d{4})", text, re.ASCII)
    slashed = re.fullmatch(r"(\d{1,2})/(\d{1,2})/(\d{4})", text, re.ASCII)
    if dotted:
        return f"{dotted[3]}-{int(dotted[2]):02d}-{int(dotted[1]):02d}"
    if slashed and order is DayOrder.ISO:
        raise ImportRefused(f"'{text}': say with --dates dmy or mdy whether the day stands first")
    if slashed:
        first, second = int(slashed[1]), int(slashed[2])
        day, month = (first, second) if order is DayOrder.DAY_FIRST else (second, first)
        return f"{slashed[3]}-{month:02d}-{day:02d}"
    return text


def _step_faults(steps: Mapping[str, str], made_on: str, at: datetime) -> Iterator[str]:
    """Days in the future, before it was made, or in an order that cannot be."""
    today = at.astimezone().date().isoformat()
    named = [(name, steps[name]) for name in ("in_service_on", "inspected_on", "retired_on")
             if name in steps]  # fmt: skip
    for name, day in named:
        if day > today:
            yield f"{name} {day} lies in the future"
        if made_on and day[: len(made_on)] < made_on:
            yield f"{name} {day} lies before it was made ({made_on})"
    retired = steps.get("retired_on", "")
    for name, day in named[:-1] if retired else ():
        if day > retired:
            yield f"{name} {day} lies after it was retired ({retired})"
    if "retired_because" in steps and not retired:
        yield "has a reason for retiring, but no day it was retired"


def enter_rows(
    register: Register, table: TableFile, plans: Iterable[RowPlan], *, who: str, at: datetime
) -> list[Event]:
    """Enter the planned rows: all of them, or none. Gives the events that registered them.

    Each entry says that it was taken over by hand, from which file and row.

    Raises:
        ImportRefused: a row is refused; nothing is entered.
    """
    wanted = [plan for plan in plans if plan.verdict is not Verdict.KNOWN]
    refused = [plan for plan in wanted if plan.verdict is Verdict.REFUSE]
    if refused:
        raise ImportRefused(f"row {refused[0].number}: {'; '.join(refused[0].reasons)}")
    entered: list[Event] = []
    with register.writing():
        free = _free_ids(register, wanted)
        for plan in wanted:
            fields = {**plan.fields}
            if "id" not in fields:
                fields["id"] = next(free)
            if id_is_taken(register, fields["id"]):
                raise ImportRefused(f"row {plan.number}: the id {fields['id']} was taken meanwhile")
            entered.append(_enter(register, table, plan, fields, who=who, at=at))
    return entered


def _free_ids(register: Register, plans: Sequence[RowPlan]) -> Iterator[str]:
    """New ids that no row of the file takes."""
    taken = {str(plan.fields["id"]).casefold() for plan in plans if "id" in plan.fields}
    given = new_ids(register, read_settings(register).id_prefix)
    return (id for id in given if id.casefold() not in taken)


def _enter(
    register: Register, table: TableFile, plan: RowPlan, fields: Mapping[str, Any], *,
    who: str, at: datetime,
) -> Event:  # fmt: skip
    steps = plan.steps
    days = [
        steps[name] for name in ("in_service_on", "inspected_on", "retired_on") if name in steps
    ]
    body = {"fields": dict(fields), "by_hand": True, "file": table.sha256, "row": plan.number,
            "source": on_one_line(table.name)}  # fmt: skip
    event = register.record(
        Kind.REGISTERED, None, body, who=who, at=at, happened_on=min(days, default=None)
    )
    taken_over = f"taken over from {on_one_line(table.name)}, row {plan.number}"
    for kind, day, more in _life(steps, taken_over):
        register.record(kind, event.connector, more, who=who, at=at, happened_on=day)
    return event


def _life(steps: Mapping[str, str], note: str) -> Iterator[tuple[Kind, str | None, dict[str, Any]]]:
    """Life events of a row, in the order they happened."""
    place = {"place": steps["place"]} if "place" in steps else {}
    if "in_service_on" in steps:
        yield Kind.PUT_IN_SERVICE, steps["in_service_on"], {"note": note, **place}
    elif place:
        yield Kind.MOVED, None, {"note": note, **place}
    if "inspected_on" in steps:
        yield Kind.INSPECTED, steps["inspected_on"], {"result": "pass", "note": note}
    if "retired_on" in steps:
        reason = steps.get("retired_because", "not recorded")
        yield Kind.RETIRED, steps["retired_on"], {"reason": reason, "note": note}

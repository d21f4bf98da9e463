"""Inspections that are overdue or soon due."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from heapq import merge
from itertools import islice
from typing import Any

from stampreader.register.deriving import Connector
from stampreader.register.intervals import (
    INSPECTED_LIVES,
    Intervals,
    latest_start,
    next_due,
    read_intervals,
)
from stampreader.register.projection import connector_of
from stampreader.register.store import Register

Question = tuple[str, list[Any]]


@dataclass(frozen=True, slots=True)
class Due:
    """A connector whose inspection is due.

    Attributes:
        connector: which.
        due_on: the day its next inspection is due.
        months: the interval it is counted with.
    """

    connector: Connector
    due_on: date
    months: int

    def days_left(self, today: date) -> int:
        """Days until it is due; below nothing if it is overdue."""
        return (self.due_on - today).days


def list_due(
    register: Register,
    *,
    today: date,
    within_days: int,
    place: str = "",
    delivery: str = "",
    limit: int = 0,
) -> list[Due]:
    """Connectors overdue, or due within so many days, the longest overdue first.

    Args:
        register: the register.
        today: the present day.
        within_days: how far to look ahead; 0 for those due today or before.
        place: only in this kit or store.
        delivery: only of this delivery.
        limit: at most so many; 0 for all.
    """
    intervals = read_intervals(register)
    until = today + timedelta(days=within_days)
    rows = (
        _due(register, question, intervals)
        for question in due_sql(intervals, until, place=place, delivery=delivery, limit=limit)
    )
    found = merge(*rows, key=lambda due: due.due_on)
    return list(islice(found, limit or None))


def count_due(
    register: Register, *, today: date, within_days: int, place: str = "", delivery: str = ""
) -> int:
    """How many `list_due` would list without a limit."""
    until = today + timedelta(days=within_days)
    return sum(
        int(register.rows(sql.replace("SELECT *", "SELECT count(*) AS n", 1), values)[0]["n"])
        for sql, values in due_sql(
            read_intervals(register), until, place=place, delivery=delivery, limit=0
        )
    )


def _due(register: Register, question: Question, intervals: Intervals) -> Iterator[Due]:
    for row in register.rows(*question):
        connector = connector_of(row)
        due_on = next_due(connector, intervals)
        assert due_on is not None, "only states that are inspected are asked for"
        yield Due(connector, due_on, intervals.months_of(connector.place))


def due_sql(
    intervals: Intervals, until: date, *, place: str, delivery: str, limit: int
) -> list[Question]:
    """The questions behind a due list: one a state of life and interval, each in order."""
    questions = []
    for life in INSPECTED_LIVES:
        for places, inside, months in _groups(intervals, place):
            # of a kit or delivery there are few: the plus keeps SQLite from its index of days
            start = "+due_from_on" if delivery or (places and inside) else "due_from_on"
            clauses = ["life = ?", f"{start} <= ?"]
            values: list[Any] = [str(life), latest_start(until, months).isoformat()]
            if places:
                marks = ", ".join("?" * len(places))
                clauses.append(f"place {'IN' if inside else 'NOT IN'} ({marks})")
                values.extend(places)
            if delivery:
                clauses.append("delivery = ?")
                values.append(delivery)
            sql = f"SELECT * FROM connectors WHERE {' AND '.join(clauses)} ORDER BY {start}"
            questions.append((f"{sql} LIMIT ?", [*values, limit]) if limit else (sql, values))
    return questions


def _groups(intervals: Intervals, place: str) -> Iterator[tuple[Sequence[str], bool, int]]:
    """Kits by their interval: (names, whether inside them, months)."""
    if place:
        yield (place,), True, intervals.months_of(place)
        return
    yield tuple(intervals.kits), False, intervals.months
    for months in sorted(set(intervals.kits.values())):
        yield tuple(kit for kit, own in intervals.kits.items() if own == months), True, months

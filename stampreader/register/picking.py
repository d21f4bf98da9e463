"""Looking for connectors fit for a use: the questions to the register, answered from indexes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from stampreader.register.connectors import SORTS
from stampreader.register.deriving import Connector
from stampreader.register.faults import explained
from stampreader.register.intervals import Intervals, latest_start
from stampreader.register.projection import connector_of
from stampreader.register.steps import Life
from stampreader.register.store import Register, Row


@dataclass(frozen=True, slots=True)
class Shelf:
    """Where to look; an empty field does not limit. Text is compared without case."""

    place: str = ""
    delivery: str = ""
    maker: str = ""
    model: str = ""


EVERYWHERE = Shelf()


@dataclass(frozen=True, slots=True)
class Demands:
    """What a connector must have, as far as the register's indexes can tell.

    Attributes:
        gates: kinds of gate that will do, as recorded; `None`: any.
        shapes: shapes that will do; `None`: any. A mark of `instead_of_shape` does as well.
        instead_of_shape: marks that stand for the shape.
        marks: one of each of these groups must be stamped.
        least_N: closed strength in newton; below nothing is asked.
    """

    gates: Sequence[str] | None = None
    shapes: Sequence[str] | None = None
    instead_of_shape: Sequence[str] = ()
    marks: Sequence[Sequence[str]] = ()
    least_N: int = 0


def stream(register: Register, sql: str, values: Sequence[Any]) -> Iterator[Row]:
    """Rows of a question one by one, so that asking can stop early."""
    with explained(register.path):
        cursor = register.db.conn.execute(sql, values)
        names = [column[0] for column in cursor.description]
        for row in cursor:
            yield dict(zip(names, row, strict=True))


def values_of(register: Register, column: str) -> list[str]:
    """The different values of a column, each found through its index, not by reading all rows."""
    return [str(row["value"]) for row in register.rows(values_sql(column))]


def values_sql(column: str) -> str:
    """The question for the different values of `gate`, `shape`, `place` or of the marks."""
    table = "connector_marks" if column == "mark" else "connectors"
    assert column in ("mark", "gate", "shape", "place"), "columns with an index of their own"
    return (
        f"WITH RECURSIVE found (value) AS (SELECT min({column}) FROM {table} UNION ALL"
        f" SELECT (SELECT min({column}) FROM {table} WHERE {column} > found.value)"
        " FROM found WHERE found.value IS NOT NULL)"
        " SELECT value FROM found WHERE value IS NOT NULL"
    )


def candidates(
    register: Register, demands: Demands, shelf: Shelf, intervals: Intervals, today: date
) -> Iterator[Connector]:
    """Connectors in service, not overdue, that meet the demands; longest time left first."""
    for row in stream(register, *candidates_sql(demands, shelf, intervals, today)):
        yield connector_of(row)


def candidates_sql(
    demands: Demands, shelf: Shelf, intervals: Intervals, today: date
) -> tuple[str, list[Any]]:
    """The question behind `candidates`."""
    clauses, values = _still_fresh(intervals, today)
    for column, wanted in _limits(shelf):
        clauses.append(f"{column} = ?")
        values.append(wanted)
    if demands.gates is not None:
        clauses.append(f"+gate IN ({_places(demands.gates)})")
        values.extend(demands.gates)
    if demands.shapes is not None:
        by_mark = f" OR {_stamped(demands.instead_of_shape)}" if demands.instead_of_shape else ""
        clauses.append(f"(+shape IN ({_places(demands.shapes)}){by_mark})")
        values.extend([*demands.shapes, *demands.instead_of_shape])
    for group in demands.marks:
        clauses.append(_stamped(group))
        values.extend(group)
    if demands.least_N > 0:
        clauses.append("+closed_N >= ?")
        values.append(demands.least_N)
    where = " AND ".join(clauses)
    if shelf != EVERYWHERE:
        # of a kit, delivery or model there are few: keep SQLite from its index of days
        where = where.replace("due_from_on >", "+due_from_on >")
    start = "due_from_on" if shelf == EVERYWHERE else "+due_from_on"
    sql = f"SELECT * FROM connectors WHERE {where} ORDER BY {start} DESC, prefix, running, id"
    return sql, values


def _still_fresh(intervals: Intervals, today: date) -> tuple[list[str], list[Any]]:
    """In service, without conflict, and inspected within the interval of its kit."""
    yesterday = today - timedelta(days=1)
    starts = {
        kit: latest_start(yesterday, months).isoformat() for kit, months in intervals.kits.items()
    }
    usual = latest_start(yesterday, intervals.months).isoformat()
    clauses = ["life = ?", "conflicts = '[]'", "due_from_on > ?"]
    values: list[Any] = [str(Life.IN_SERVICE), min([usual, *starts.values()])]
    if starts:
        cases = "WHEN ? THEN ? " * len(starts)
        clauses.append(f"due_from_on > CASE place {cases}ELSE ? END")
        values.extend([*(text for pair in starts.items() for text in pair), usual])
    return clauses, values


def _limits(shelf: Shelf) -> Iterator[tuple[str, str]]:
    for column in ("place", "delivery", "maker", "model"):
        wanted = getattr(shelf, column)
        if wanted:
            yield column, wanted


def _places(values: Sequence[str]) -> str:
    return ", ".join("?" * len(values))


def _stamped(marks: Sequence[str]) -> str:
    """One of these marks is stamped; asked connector by connector, through their own index."""
    return (
        "EXISTS (SELECT 1 FROM connector_marks m WHERE m.uid = connectors.uid"
        f" AND m.mark IN ({_places(marks)}))"
    )


def passed_over(
    register: Register, shelf: Shelf, *, sort: str = "id", most: int = 0
) -> Iterator[Connector]:
    """All connectors of a shelf in order, whatever their state, to say why some do not qualify.

    Args:
        register: the register.
        shelf: where to look.
        sort: one of `SORTS`.
        most: at most so many; 0 for all.
    """
    for row in stream(register, *passed_over_sql(shelf, sort=sort, most=most)):
        yield connector_of(row)


def passed_over_sql(shelf: Shelf, *, sort: str = "id", most: int = 0) -> tuple[str, list[Any]]:
    """The question behind `passed_over`."""
    clauses = ["+life != ?"]
    values: list[Any] = [str(Life.WITHDRAWN)]
    for column, wanted in _limits(shelf):
        clauses.append(f"{column} = ?")
        values.append(wanted)
    sql = f"SELECT * FROM connectors WHERE {' AND '.join(clauses)} ORDER BY {SORTS[sort]}"
    return (f"{sql} LIMIT ?", [*values, most]) if most else (sql, values)

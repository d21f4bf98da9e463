"""Inspections that are due, on the screen and as JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

from stampreader.cli.fitness import remarks_of
from stampreader.cli.show_rig import in_columns
from stampreader.register import Due

HEADS = ("due on", "", "id", "connector", "place", "state", "last passed", "remarks")


def due_json(found: Sequence[Due], today: date) -> Iterator[dict[str, Any]]:
    """One object for each connector."""
    for due in found:
        connector = due.connector
        yield {
            "id": connector.id,
            "due_on": due.due_on,
            "days_left": due.days_left(today),
            "overdue": due.due_on < today,
            "interval_months": due.months,
            "state": str(connector.life),
            "place": connector.place or None,
            "maker": connector.maker or None,
            "model": connector.model or None,
            "inspected_on": connector.inspected_on or None,
            "remarks": list(remarks_of(connector)),
        }


def due_lines(found: Sequence[Due], today: date) -> Iterator[str]:
    """A table, and how many are overdue."""
    yield from in_columns(HEADS, [_row(due, today) for due in found])
    overdue = sum(1 for due in found if due.due_on < today)
    yield ""
    yield f"{overdue} overdue, {len(found) - overdue} due soon."


def _row(due: Due, today: date) -> Sequence[str]:
    connector = due.connector
    return (
        due.due_on.isoformat(),
        in_days(due.days_left(today)),
        connector.id,
        " ".join(filter(None, (connector.maker, connector.model))),
        connector.place,
        str(connector.life),
        connector.inspected_on or "never",
        "; ".join(remarks_of(connector)),
    )


def in_days(days: int) -> str:
    """How long until a day, in words.

    Example:
        >>> in_days(-1)
        'overdue 1 day'
    """
    if days == 0:
        return "today"
    count = f"{abs(days)} day{'' if abs(days) == 1 else 's'}"
    return f"overdue {count}" if days < 0 else f"in {count}"

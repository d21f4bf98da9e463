"""The register as a list, and the list of inspections that are due."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from stampreader.report.page import (
    Align,
    Block,
    Column,
    Document,
    Heading,
    Paragraph,
    Printing,
    Table,
)


@dataclass(frozen=True, slots=True)
class ListLine:
    """One connector in the register's list."""

    id: str
    name: str = ""
    serial: str = ""
    batch: str = ""
    closed_kN: Decimal | None = None
    cross_kN: Decimal | None = None
    open_kN: Decimal | None = None
    marks: tuple[str, ...] = ()
    state: str = ""
    place: str = ""
    next_due: date | None = None


@dataclass(frozen=True, slots=True)
class DueLine:
    """One connector whose inspection is due, or was; `last_on` is `None` if never inspected."""

    id: str
    due_on: date
    name: str = ""
    place: str = ""
    last_on: date | None = None
    state: str = ""


def register_document(lines: Sequence[ListLine], printing: Printing, chosen: str = "") -> Document:
    """The register, one row a connector.

    Args:
        lines: in the order to print.
        printing: team, time, paper.
        chosen: which part of the register this is, in words; empty for all of it.
    """
    columns = (
        Column("Id", 1.25),
        Column("Maker and model", 2.3),
        Column("Serial", 1.3),
        Column("Batch", 1.1),
        Column("Closed kN", 0.75, Align.RIGHT),
        Column("Cross kN", 0.75, Align.RIGHT),
        Column("Open kN", 0.75, Align.RIGHT),
        Column("Marks", 2.2),
        Column("State", 1.2),
        Column("Place", 1.5),
        Column("Next inspection", 1.2),
    )
    rows = tuple(
        (
            line.id, line.name, line.serial, line.batch, line.closed_kN, line.cross_kN,
            line.open_kN, line.marks, line.state, line.place, line.next_due,
        )
        for line in lines
    )  # fmt: skip
    counted = Counter(line.state for line in lines)
    said = ", ".join(f"{count} {state}" for state, count in sorted(counted.items()))
    blocks: tuple[Block, ...] = (
        Paragraph(f"{_connectors(len(lines))}{': ' + said if said else ''}."),
        Table("Register", columns, rows, empty="No connector matches."),
    )
    return Document(
        "Register", "Register of connectors", blocks, printing, subtitle=chosen, wide=True
    )


def due_document(lines: Sequence[DueLine], printing: Printing, today: date, days: int) -> Document:
    """Inspections overdue on `today`, and those due in the `days` after, earliest first."""
    ordered = sorted(lines, key=lambda line: (line.due_on, line.id))
    late = [line for line in ordered if line.due_on < today]
    soon = [line for line in ordered if line.due_on >= today]
    blocks: tuple[Block, ...] = (
        Paragraph(
            f"{_connectors(len(late))} overdue on {today.isoformat()}, "
            f"{len(soon)} due within {days} days. An overdue connector is not issued."
        ),
        Heading("Overdue"),
        _due_table("Overdue", late, today, strong=True),
        Heading(f"Due within {days} days"),
        _due_table("Due soon", soon, today, strong=False),
    )
    return Document("Due list", "Inspections due", blocks, printing)


def _due_table(name: str, lines: Sequence[DueLine], today: date, *, strong: bool) -> Table:
    columns = (
        Column("Id", 1.2),
        Column("Maker and model", 2.4),
        Column("Place", 1.7),
        Column("Last inspected", 1.2),
        Column("State", 1.35),
        Column("Due", 1.2),
        Column("Days", 0.7, Align.RIGHT),
    )
    rows = tuple(
        (
            line.id, line.name, line.place,
            "never" if line.last_on is None else line.last_on,
            line.state, line.due_on, (line.due_on - today).days,
        )
        for line in lines
    )  # fmt: skip
    bold = frozenset(range(len(rows))) if strong else frozenset()
    return Table(name, columns, rows, empty="None.", strong=bold)


def _connectors(count: int) -> str:
    return "1 connector" if count == 1 else f"{count} connectors"

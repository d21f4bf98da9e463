"""The report of the inspections of one day, for the competent person to sign."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from stampreader.report.page import (
    Block,
    Column,
    Document,
    Facts,
    Heading,
    Paragraph,
    Picture,
    Pictures,
    Printing,
    Signatures,
    Table,
)


@dataclass(frozen=True, slots=True)
class InspectedLine:
    """One connector as inspected.

    Attributes:
        id, name, place: which one, and where it is kept.
        result: such as `pass` or `fail`, derived from the points.
        failed: points that failed, each with its note.
        remarks: notes on points that passed.
        measured: such as `groove 0.8 mm`.
        action: what followed, such as `quarantined`.
        next_due: day of its next inspection, `None` if it left service.
        picture: evidence of a fault.
    """

    id: str
    result: str
    name: str = ""
    place: str = ""
    who: str = ""
    failed: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    measured: tuple[str, ...] = ()
    action: str = ""
    next_due: date | None = None
    picture: bytes | None = None


@dataclass(frozen=True, slots=True)
class InspectionDay:
    """The inspections recorded for one day, and the points that were looked at."""

    day: date
    lines: tuple[InspectedLine, ...] = ()
    points: tuple[str, ...] = ()
    place: str = ""


def inspection_document(report: InspectionDay, printing: Printing) -> Document:
    """Summary, faults first with their evidence, every connector, points checked, signatures."""
    faults = [line for line in report.lines if line.failed]
    people = sorted({line.who for line in report.lines if line.who})
    blocks: list[Block] = [
        Facts(
            (
                ("Day", report.day),
                ("Competent person", ", ".join(people)),
                ("Inspected", len(report.lines)),
                ("With a fault", len(faults)),
            )
        ),
        Heading("Faults"),
        _faults(faults),
    ]
    pictured = [line for line in faults if line.picture is not None]
    if pictured:
        blocks.append(Pictures(tuple(_picture(line) for line in pictured)))
    blocks += [Heading("Connectors inspected"), _inspected(report.lines)]
    if report.points:
        blocks += [
            Heading("Points looked at"),
            Paragraph("; ".join(report.points) + "."),
        ]
    blocks.append(
        Signatures(_statement(report, len(faults)), ("Competent person", "Equipment officer"))
    )
    return Document(
        "Inspection report", f"Inspections of {report.day.isoformat()}", tuple(blocks), printing
    )


def _statement(report: InspectionDay, faults: int) -> str:
    count = len(report.lines)
    return (
        f"{count} connector{'' if count == 1 else 's'} inspected on {report.day.isoformat()}, "
        f"{faults or 'none'} with a fault, as listed in this report."
    )


def _faults(lines: Sequence[InspectedLine]) -> Table:
    columns = (
        Column("Id", 1.1),
        Column("Maker and model", 1.8),
        Column("What failed", 3.4),
        Column("Measured", 1.4),
        Column("Action", 1.3),
    )
    rows = tuple(
        (line.id, line.name, "; ".join(line.failed), "; ".join(line.measured), line.action)
        for line in lines
    )
    return Table("Faults", columns, rows, empty="No fault was found.", strong=frozenset())


def _picture(line: InspectedLine) -> Picture:
    assert line.picture is not None
    return Picture(line.picture, (line.id, *line.failed, *line.measured))


def _inspected(lines: Sequence[InspectedLine]) -> Table:
    columns = (
        Column("Id", 1.1),
        Column("Maker and model", 1.9),
        Column("Place", 1.4),
        Column("By", 1.4),
        Column("Result", 0.8),
        Column("Remarks", 2.0),
        Column("Next due", 1.1),
    )
    rows = tuple(
        (
            line.id, line.name, line.place, line.who, line.result,
            "; ".join((*line.remarks, *(() if line.failed else line.measured))), line.next_due,
        )
        for line in lines
    )  # fmt: skip
    strong = frozenset(index for index, line in enumerate(lines) if line.failed)
    return Table("Inspected", columns, rows, empty="Nothing was inspected that day.", strong=strong)

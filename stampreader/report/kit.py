"""The list of a kit drawn up for a use, with the margins at the planned load."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from stampreader.report.page import (
    Align,
    Block,
    Column,
    Document,
    Facts,
    Heading,
    Notice,
    Printing,
    Signatures,
    Table,
)


@dataclass(frozen=True, slots=True)
class KitLine:
    """One connector of the kit.

    Attributes:
        id, name, place: which one, and where it is.
        closed_kN, cross_kN, open_kN: as stamped.
        weakest: direction that leaves least.
        margin: its strength over the load, rounded down; `None` where the figure is unknown.
        verdict: whether the ratio is kept in every direction, in words.
        remarks: such as `no third-party mark`.
        next_due: next inspection.
    """

    id: str
    name: str = ""
    place: str = ""
    closed_kN: Decimal | None = None
    cross_kN: Decimal | None = None
    open_kN: Decimal | None = None
    weakest: str = ""
    margin: Decimal | None = None
    verdict: str = ""
    remarks: tuple[str, ...] = ()
    next_due: date | None = None


@dataclass(frozen=True, slots=True)
class KitList:
    """A kit for one use: the use, load and ratio it was picked for, and what was left out."""

    name: str
    use: str
    load: str
    ratio: Decimal
    lines: tuple[KitLine, ...] = ()
    left_out: tuple[tuple[str, str], ...] = ()


def kit_document(kit: KitList, printing: Printing) -> Document:
    """The kit, weakest first as given, with margins, caution, and what fails with its reason."""
    blocks: list[Block] = [
        Facts(
            (
                ("For the use", kit.use),
                ("Planned load", kit.load),
                ("Ratio asked for", f"{kit.ratio}:1"),
                ("Connectors", len(kit.lines)),
            )
        )
    ]
    flagged = sum(1 for line in kit.lines if line.remarks)
    if flagged:
        verb = "carries" if flagged == 1 else "carry"
        blocks.append(Notice(f"{flagged} of {len(kit.lines)} connectors {verb} a remark."))
    blocks += [Heading("Kit"), _kit_table(kit.lines)]
    if kit.left_out:
        columns = (Column("Id", 1.0), Column("Why it is not in the kit", 5.0))
        blocks += [Heading("Left out"), Table("Left out", columns, kit.left_out)]
    statement = f"{len(kit.lines)} connectors drawn for {kit.use}, as listed."
    blocks.append(Signatures(statement, ("Drawn by", "Returned to")))
    return Document("Kit list", kit.name, tuple(blocks), printing, wide=True)


def _kit_table(lines: Sequence[KitLine]) -> Table:
    columns = (
        Column("Id", 1.2),
        Column("Maker and model", 2.0),
        Column("Place", 1.4),
        Column("Closed kN", 0.8, Align.RIGHT),
        Column("Cross kN", 0.8, Align.RIGHT),
        Column("Open kN", 0.8, Align.RIGHT),
        Column("Weakest", 0.9),
        Column("Margin", 0.9, Align.RIGHT),
        Column("Verdict", 1.3),
        Column("Next due", 1.1),
        Column("Remarks", 2.0),
    )
    rows = tuple(
        (
            line.id, line.name, line.place, line.closed_kN, line.cross_kN, line.open_kN,
            line.weakest, "unknown" if line.margin is None else line.margin, line.verdict,
            line.next_due, "; ".join(line.remarks),
        )
        for line in lines
    )  # fmt: skip
    strong = frozenset(index for index, line in enumerate(lines) if line.remarks)
    return Table(
        "Kit", columns, rows, empty="No connector is fit for it.", strong=strong, margins=True
    )

"""What a report is made of: one document of plain blocks, which PDF, HTML and tables all draw.

A document holds no layout. Cells keep their kind (number, date, text), so that a spreadsheet gets
numbers and dates and a page gets them written out.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum

from stampreader.paper import A4, Paper

Cell = str | int | Decimal | date | tuple[str, ...] | None
"""One value; several words that belong together, such as marks, are a tuple."""


class Align(StrEnum):
    """Where the text of a column stands."""

    LEFT = "left"
    RIGHT = "right"


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its heading, its share of the width, and where its text stands."""

    title: str
    share: float = 1.0
    align: Align = Align.LEFT


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading inside the document."""

    text: str


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Running text; `quiet` for a remark."""

    text: str
    quiet: bool = False


@dataclass(frozen=True, slots=True)
class Notice:
    """A sentence that must not be overlooked, set in a frame."""

    text: str


@dataclass(frozen=True, slots=True)
class Facts:
    """Names and values in two columns; a value of `None` or nothing is shown as a dash."""

    pairs: tuple[tuple[str, Cell], ...]


@dataclass(frozen=True, slots=True)
class Strength:
    """One stamped figure as it stands in large type.

    Attributes:
        direction: `closed`, `cross` or `open` with its explanation.
        kN: as stamped; `None` where there is none or it is unknown.
        note: where the value comes from.
    """

    direction: str
    kN: Decimal | None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Strengths:
    """The figures of one connector side by side."""

    figures: tuple[Strength, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table that may run over pages.

    Attributes:
        name: of the sheet in a workbook.
        columns, rows: every row has a cell for every column.
        empty: what is said when there is no row.
        strong: numbers of rows set in bold.
        margins: whether it shows margins; the caution is then printed with the document.
    """

    name: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    empty: str = "None recorded."
    strong: frozenset[int] = frozenset()
    margins: bool = False

    def __post_init__(self) -> None:
        """A row that does not fit its columns is a mistake in the program."""
        assert all(len(row) == len(self.columns) for row in self.rows)


@dataclass(frozen=True, slots=True)
class Picture:
    """An evidence picture with what was read from it beside it; PNG or JPEG bytes."""

    data: bytes
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Pictures:
    """Evidence pictures, one below the other."""

    pictures: tuple[Picture, ...]
    empty: str = "No photo is kept."


@dataclass(frozen=True, slots=True)
class Choices:
    """Boxes to tick by hand."""

    question: str
    answers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Signatures:
    """Lines to sign by hand: what is signed, in a sentence, and in which role."""

    statement: str
    roles: tuple[str, ...]


Block = (
    Heading
    | Paragraph
    | Notice
    | Facts
    | Strengths
    | Table
    | Pictures
    | Choices
    | Signatures
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Printing:
    """What every page says about itself.

    Attributes:
        team: the team's name, as set in the register.
        printed_at: time of printing; also the PDF's creation date.
        paper: paper to print on.
        state: which state of the register was printed, such as its last event's number.
    """

    team: str
    printed_at: datetime
    paper: Paper = A4
    state: str = ""


@dataclass(frozen=True, slots=True)
class Document:
    """One report.

    Attributes:
        kind: what it is, in the head of every page.
        title, subtitle: above the first block.
        blocks: in reading order.
        printing: team, time, paper.
        wide: printed across the long side.
    """

    kind: str
    title: str
    blocks: tuple[Block, ...]
    printing: Printing
    subtitle: str = ""
    wide: bool = False
    notes: tuple[str, ...] = field(default=())

    @property
    def tables(self) -> tuple[Table, ...]:
        """The tables among the blocks."""
        return tuple(block for block in self.blocks if isinstance(block, Table))

    @property
    def shows_margins(self) -> bool:
        """Whether the caution must be printed."""
        return any(table.margins for table in self.tables)

    def texts(self) -> Iterator[str]:
        """Every text of the document, for tests and searches."""
        yield from (self.kind, self.title, self.subtitle, self.printing.team, *self.notes)
        for block in self.blocks:
            yield from _texts(block)


def written(cell: Cell) -> str:
    """A cell as a page shows it: dates as 2026-11-25, numbers plainly, `None` as a dash."""
    if cell is None:
        return "–"
    if isinstance(cell, tuple):
        # a mark such as EN 362:2004/B is not broken between two lines
        return ", ".join(item.replace(" ", "\u00a0") for item in cell)
    if isinstance(cell, datetime):
        return f"{cell:%Y-%m-%d %H:%M}"
    if isinstance(cell, date):
        return cell.isoformat()
    if isinstance(cell, Decimal):
        return f"{cell:f}"
    return str(cell)


def _texts(block: Block) -> Iterator[str]:
    match block:
        case Heading(text) | Paragraph(text) | Notice(text):
            yield text
        case Facts(pairs):
            for name, value in pairs:
                yield from (name, written(value))
        case Table():
            yield from (column.title for column in block.columns)
            yield from (written(cell) for row in block.rows for cell in row)
        case Pictures(pictures):
            for picture in pictures:
                yield from picture.lines
        case Strengths(figures):
            for figure in figures:
                shown = "no figure" if figure.kN is None else f"{written(figure.kN)} kN"
                yield from (figure.direction, shown, figure.note)
        case Choices(question, answers):
            yield from (question, *answers)
        case Signatures(statement, roles):
            yield from (statement, *roles)

"""Printed paper that a photo can find again: label texts, the photo sheet's measures and marks.

Printing (`report`) and reading (`photo`) share these values, so that what is printed is what is
looked for. All measures are millimetres, origin the sheet's top-left corner, x right, y down.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import product

PREFIX = "STAMPREADER:"
"""What the QR code of a label or cell begins with; the connector's id follows."""

_BARE_ID = re.compile(r"[A-Z0-9][A-Z0-9._/-]{0,39}", re.IGNORECASE)


def label_text(connector_id: str) -> str:
    """What the QR code of a connector's label holds: `STAMPREADER:` and the id.

    Example: `label_text("TM-0042")` is `STAMPREADER:TM-0042`.
    """
    return PREFIX + connector_id


def label_id(text: str) -> str | None:
    """The connector's id in a QR text: after our prefix, or a bare id; `None` for anything else.

    A bare id holds letters, digits, `.`, `_`, `/`, `-` and contains a digit, so that a link or a
    word on a maker's own code is not taken for one.
    """
    text = text.strip()
    if text.startswith(PREFIX):
        return text[len(PREFIX) :].strip() or None
    if _BARE_ID.fullmatch(text) and any(c.isdigit() for c in text) and "//" not in text:
        return text
    return None


@dataclass(frozen=True, slots=True)
class Rect:
    """An upright rectangle on the sheet: left, top, width and height in mm."""

    x: float
    y: float
    width: float
    height: float

    @property
    def corners(self) -> tuple[tuple[float, float], ...]:
        """Top-left, top-right, bottom-right, bottom-left in mm."""
        right, bottom = self.x + self.width, self.y + self.height
        return (self.x, self.y), (right, self.y), (right, bottom), (self.x, bottom)

    def shrunk(self, by: float) -> Rect:
        """The rectangle with `by` mm taken off every side."""
        return Rect(self.x + by, self.y + by, self.width - 2 * by, self.height - 2 * by)


@dataclass(frozen=True, slots=True)
class Paper:
    """A paper size in mm, portrait."""

    name: str
    width: float
    height: float


A4 = Paper("a4", 210.0, 297.0)
LETTER = Paper("letter", 215.9, 279.4)
PAPERS: dict[str, Paper] = {paper.name: paper for paper in (A4, LETTER)}

MARGIN = 7.0
"""Edge left free: most office printers cannot print closer than about 5 mm."""
MARKER = 14.0
"""Side of a corner marker with its black border."""
QR_SIDE = 16.0
"""Side of a cell's QR symbol without its quiet zone."""
STRIP = 22.0
"""Height of the strip of a cell that holds its QR code, number and id."""
_HEAD = 5.0  # height of the line of text between the upper, and between the lower, markers
_QUIET = 3.5  # white kept between a marker and a QR symbol: four modules at least


@dataclass(frozen=True, slots=True)
class CellPlace:
    """One numbered cell of the photo sheet.

    Attributes:
        number: printed number, from 1, in reading order.
        frame: outline of the whole cell.
        free: where the connector is laid.
        qr: the QR symbol, without quiet zone.
        text: where number and id are printed.
    """

    number: int
    frame: Rect
    free: Rect
    qr: Rect
    text: Rect


@dataclass(frozen=True, slots=True)
class SheetLayout:
    """A photo sheet: paper, grid of cells, and the four marker patterns that name this layout."""

    paper: Paper
    columns: int
    rows: int
    first_marker: int

    @property
    def cells_count(self) -> int:
        """Number of cells."""
        return self.columns * self.rows

    @property
    def markers(self) -> dict[int, Rect]:
        """Place of each corner marker by its number, from the top-left corner clockwise."""
        right = self.paper.width - MARGIN - MARKER
        bottom = self.paper.height - MARGIN - MARKER
        places = ((MARGIN, MARGIN), (right, MARGIN), (right, bottom), (MARGIN, bottom))
        return {
            self.first_marker + corner: Rect(x, y, MARKER, MARKER)
            for corner, (x, y) in enumerate(places)
        }

    @property
    def cells(self) -> tuple[CellPlace, ...]:
        """The cells in reading order."""
        return tuple(
            self._cell(row, column)
            for row, column in product(range(self.rows), range(self.columns))
        )

    def _cell(self, row: int, column: int) -> CellPlace:
        width = (self.paper.width - 2 * MARGIN) / self.columns
        height = (self.paper.height - 2 * (MARGIN + _HEAD)) / self.rows
        frame = Rect(MARGIN + column * width, MARGIN + _HEAD + row * height, width, height)
        below = row == self.rows - 1 and row > 0
        strip_y = frame.y + frame.height - STRIP if below else frame.y
        free = Rect(frame.x, frame.y + (0 if below else STRIP), width, height - STRIP)
        qr, text = _strip(frame, strip_y, column, self.columns)
        return CellPlace(row * self.columns + column + 1, frame, free, qr, text)


def _strip(frame: Rect, y: float, column: int, columns: int) -> tuple[Rect, Rect]:
    """Places of QR symbol and text in a cell's strip, clear of the corner marker beside them."""
    taken = MARKER + _QUIET
    qr_y = y + (STRIP - QR_SIDE) / 2
    right_edge = column == columns - 1 and columns > 1
    room = frame.width - taken - QR_SIDE - 2 * _QUIET
    if right_edge:
        qr_x = frame.x + frame.width - taken - QR_SIDE
        text_x = qr_x - _QUIET - room
    else:
        qr_x = frame.x + (taken if column == 0 else _QUIET)
        text_x = qr_x + QR_SIDE + _QUIET
    return Rect(qr_x, qr_y, QR_SIDE, QR_SIDE), Rect(text_x, qr_y, room, QR_SIDE)


GRIDS: tuple[tuple[int, int], ...] = ((2, 2), (3, 2), (3, 3), (3, 4))
"""Columns and rows: 4 large cells, 6 for most connectors, 9 for small ones, 12 for quick links."""

LAYOUTS: tuple[SheetLayout, ...] = tuple(
    SheetLayout(paper, columns, rows, 4 * index)
    for index, (paper, (columns, rows)) in enumerate(product((A4, LETTER), GRIDS))
)

MARKER_BITS = 6
"""A marker's pattern is 6 by 6 modules inside a black border one module wide."""

MARKER_PATTERNS: tuple[int, ...] = (
    0xF4C3EF459, 0x0F137BDC5, 0x0E50EE168, 0x4094546CE, 0xC5FAC0DBA, 0xA573231EF, 0x0B9F16842,
    0x06E509DDC, 0x0945C907B, 0x0F0A3117A, 0x5AFEE2375, 0xD15565FB4, 0x34D19A0B1, 0x55DA1FAD6,
    0x7D0D561A3, 0x975F1C415, 0xF15A40861, 0xB1E0383BC, 0x97C9E3AC4, 0xC32E3BA71, 0x546AD864C,
    0xC8AB8848F, 0x35369BF36, 0x7846F1DF1, 0xFD82BAE60, 0xDBA5314C4, 0xE407D580A, 0x6BABEDE04,
    0xEADA616E6, 0xE1498FC66, 0x181EFB78A, 0x794E0B610,
)  # fmt: skip
"""Own patterns, bits row by row, 1 white; any two differ in 14 modules or more however turned."""


def layout_named(paper: str, cells: int) -> SheetLayout | None:
    """The layout for a paper name and a number of cells, if there is one."""
    for layout in LAYOUTS:
        if layout.paper.name == paper and layout.cells_count == cells:
            return layout
    return None


def marker_rows(number: int) -> tuple[tuple[bool, ...], ...]:
    """A marker's modules with its border, `True` for black, rows from the top: 8 by 8."""
    bits = f"{MARKER_PATTERNS[number]:036b}"
    edge = (True,) * (MARKER_BITS + 2)
    inner = tuple(
        (True, *(bit == "0" for bit in bits[row * 6 : row * 6 + 6]), True) for row in range(6)
    )
    return (edge, *inner, edge)

"""Labels and tags: a QR code and the id in readable type, on label sheets or card to cut."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from fpdf import FPDF

from stampreader.errors import UsageError
from stampreader.paper import A4, LETTER, Paper, Rect, label_text
from stampreader.report.ink import (
    FACE,
    HAIR,
    INK,
    PT,
    QUIET,
    fitted,
    id_lines,
    modules,
    new_pdf,
    pdf_bytes,
    qr_rows,
    showable,
)

SMALLEST = (15.0, 8.0)
"""Smallest label in mm: below it a phone no longer reads the code."""
MOST_LABELS = 20_000
_HOW = (
    "Write columns x rows @ width x height in mm, then +left+top of the first label and "
    "/across x down between labels if needed, such as 3x8@70x37 or 3x7@63.5x38.1+7.2+15.1/2.5x0."
)
_NUMBER = r"(\d{1,3}(?:\.\d{1,2})?)"
_GRID = re.compile(
    rf"(\d{{1,2}})x(\d{{1,2}})@{_NUMBER}x{_NUMBER}(?:\+{_NUMBER}\+{_NUMBER})?(?:/{_NUMBER}x{_NUMBER})?"
)


@dataclass(frozen=True, slots=True)
class Label:
    """What stands on one label: the id, and up to two small lines such as maker and model."""

    id: str
    lines: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Grid:
    """Where the labels lie on a sheet, in mm.

    Attributes:
        name: our name for it.
        paper: sheet.
        columns, rows: how many across and down.
        width, height: of one label.
        left, top: of the first label; `None` to centre the grid.
        gap_x, gap_y: between labels.
        cut: whether cutting lines and a hole are printed (tags on plain card).
    """

    name: str
    paper: Paper
    columns: int
    rows: int
    width: float
    height: float
    left: float | None = None
    top: float | None = None
    gap_x: float = 0.0
    gap_y: float = 0.0
    cut: bool = False

    @property
    def count(self) -> int:
        """Labels on one sheet."""
        return self.columns * self.rows

    def place(self, index: int) -> Rect:
        """Where the label with this number (from 0, row by row) lies."""
        across = self.columns * self.width + (self.columns - 1) * self.gap_x
        down = self.rows * self.height + (self.rows - 1) * self.gap_y
        left = (self.paper.width - across) / 2 if self.left is None else self.left
        top = (self.paper.height - down) / 2 if self.top is None else self.top
        row, column = divmod(index, self.columns)
        return Rect(
            left + column * (self.width + self.gap_x),
            top + row * (self.height + self.gap_y),
            self.width,
            self.height,
        )


GRIDS: dict[str, Grid] = {
    grid.name: grid
    for grid in (
        Grid("a4-14", A4, 2, 7, 99.1, 38.1, gap_x=2.5),
        Grid("a4-21", A4, 3, 7, 63.5, 38.1, gap_x=2.5),
        Grid("a4-24", A4, 3, 8, 70.0, 37.0),
        Grid("a4-40", A4, 4, 10, 52.5, 29.7),
        Grid("a4-65", A4, 5, 13, 38.1, 21.2, gap_x=2.5),
        Grid("letter-10", LETTER, 2, 5, 101.6, 50.8, gap_x=4.8),
        Grid("letter-30", LETTER, 3, 10, 66.7, 25.4, gap_x=3.2),
        Grid("letter-80", LETTER, 4, 20, 44.5, 12.7, gap_x=7.6),
        Grid("a4-tags", A4, 3, 7, 58.0, 32.0, gap_x=4.0, gap_y=4.0, cut=True),
        Grid("letter-tags", LETTER, 3, 7, 58.0, 32.0, gap_x=4.0, gap_y=4.0, cut=True),
    )
}
"""Grids by name: paper and labels on a sheet; `tags` are cut from plain card and have a hole."""


def parse_grid(text: str, paper: Paper) -> Grid:
    """A grid by name, or written out as `3x8@70x37+0+0.5/2.5x0`.

    Args:
        text: name or measures.
        paper: sheet for a grid that is written out.

    Raises:
        UsageError: unknown name, measures not understood, or labels that do not fit the sheet.
    """
    if text in GRIDS:
        return GRIDS[text]
    found = _GRID.fullmatch(text.strip().lower().replace("×", "x").replace(" ", ""))
    if not found:
        names = ", ".join(GRIDS)
        raise UsageError(f"no label grid '{text}'", remedy=f"Take one of {names}. {_HOW}")
    columns, rows, width, height, left, top, gap_x, gap_y = found.groups()
    grid = Grid(
        text, paper, int(columns), int(rows), float(width), float(height),
        None if left is None else float(left), None if top is None else float(top),
        float(gap_x or 0), float(gap_y or 0),
    )  # fmt: skip
    _check(grid)
    return grid


def _check(grid: Grid) -> None:
    if grid.count == 0:
        raise UsageError(f"the label grid '{grid.name}' holds no label", remedy=_HOW)
    if grid.width < SMALLEST[0] or grid.height < SMALLEST[1]:
        raise UsageError(
            f"a label of {grid.width:g} × {grid.height:g} mm is too small for a code",
            remedy=f"Take labels of at least {SMALLEST[0]:g} × {SMALLEST[1]:g} mm.",
        )
    first, last = grid.place(0), grid.place(grid.count - 1)
    over = 0.05
    if (
        first.x < -over
        or first.y < -over
        or last.x + last.width > grid.paper.width + over
        or last.y + last.height > grid.paper.height + over
    ):
        raise UsageError(
            f"the label grid '{grid.name}' does not fit {grid.paper.name} "
            f"({grid.paper.width:g} × {grid.paper.height:g} mm)",
            remedy=_HOW,
        )


def labels_pdf(
    labels: Sequence[Label], grid: Grid, printed_at: datetime, *, skip: int = 0, copies: int = 1
) -> bytes:
    """Labels as a PDF, row by row.

    Args:
        labels: in the order to print.
        grid: the label sheet.
        printed_at: creation date of the file.
        skip: label places already used on the first sheet.
        copies: how many of each.

    Raises:
        UsageError: no label, too many, or a number of places to skip that the sheet does not have.
    """
    if not labels:
        raise UsageError("there is no connector to label", remedy="Name the ids to print.")
    if not 0 <= skip < grid.count:
        raise UsageError(
            f"cannot skip {skip} places of a sheet with {grid.count}",
            remedy=f"Give a number from 0 to {grid.count - 1}.",
        )
    if copies < 1 or len(labels) * copies > MOST_LABELS:
        raise UsageError(
            f"{len(labels)} labels in {copies} copies cannot be printed at once",
            remedy=f"Print between 1 and {MOST_LABELS} labels at a time.",
        )
    pdf = new_pdf(grid.paper, printed_at, "Labels")
    repeated = [label for label in labels for _ in range(copies)]
    for number, label in enumerate(repeated, start=skip):
        place = number % grid.count
        if place == 0 or number == skip:
            pdf.add_page()
        _draw_label(pdf, label, grid.place(place), cut=grid.cut)
    return pdf_bytes(pdf)


def _draw_label(pdf: FPDF, label: Label, place: Rect, *, cut: bool) -> None:
    if cut:
        _draw_cut(pdf, place)
        place = Rect(place.x + 8.0, place.y, place.width - 8.0, place.height)
    edge = max(1.5, min(3.0, place.height * 0.1))
    rows = qr_rows(label_text(label.id))
    # four modules of white all round (ISO/IEC 18004), part of it inside the label's edge
    side = min(place.height - 2 * edge, place.width * 0.42)
    symbol = side * len(rows) / (len(rows) + 4)
    quiet = (side - symbol) / 2
    qr = Rect(place.x + edge + quiet, place.y + (place.height - symbol) / 2, symbol, symbol)
    modules(pdf, rows, qr)
    left = qr.x + symbol + 4 * symbol / len(rows)
    room = place.x + place.width - edge - left
    _draw_words(pdf, label, Rect(left, place.y + edge, room, place.height - 2 * edge))


def _draw_words(pdf: FPDF, label: Label, place: Rect) -> None:
    """The whole id as large as fits, small lines below it, centred on the label's height."""
    lines = label.lines[: 2 if place.height >= 16 else 1 if place.height >= 11 else 0]
    small = min(2.7, place.height / 7)
    below = len(lines) * small * 1.5
    words = id_lines(pdf, showable(label.id), place.width, place.height - below)
    big = float(pdf.font_size)
    y = place.y + (place.height - below - len(words) * big * 1.1) / 2 + big * 0.85
    pdf.set_text_color(*INK)
    for word in words:
        pdf.text(place.x, y, word)
        y += big * 1.1
    pdf.set_text_color(*QUIET)
    y += small * 1.3 - big * 0.85
    for line in lines:
        size = small / PT
        pdf.set_font(FACE, "", size)
        pdf.text(place.x, y, fitted(pdf, showable(line), place.width, size, 5.0))
        y += small * 1.5


def _draw_cut(pdf: FPDF, place: Rect) -> None:
    """Cutting line and a 5 mm hole at the tag's left end."""
    pdf.set_draw_color(*HAIR)
    pdf.rect(place.x, place.y, place.width, place.height, round_corners=True, corner_radius=2.5)
    pdf.circle(place.x + 5.5, place.y + place.height / 2, 2.5)

"""Tables on PDF pages: headings repeated on every page, rows kept whole where a page can."""

from __future__ import annotations

from stampreader.report.ink import HAIR, INK, PT, QUIET, WASH
from stampreader.report.page import Align, Column, Table, written
from stampreader.report.sheet import EDGE, LEADING, Sheets

SIZE = 8.0
STEP = SIZE * PT * LEADING
PAD = 1.2
GUTTER = 4.0
Lines = list[list[str]]


def draw_table(sheets: Sheets, table: Table) -> None:
    """Draw a table from `sheets.y` down, over as many pages as it needs."""
    widths = _widths(sheets, table)
    sheets.font(7.5, bold=True)
    heads = [
        sheets.wrapped(column.title, width - GUTTER)
        for column, width in zip(table.columns, widths, strict=True)
    ]
    head_height = max(map(len, heads)) * STEP + 2 * PAD
    sheets.need(head_height + 2 * STEP + 2 * PAD)
    _draw_head(sheets, table, widths, heads)
    for number, row in enumerate(table.rows):
        bold = number in table.strong
        sheets.font(SIZE, bold=bold)
        cells = [
            sheets.wrapped(written(cell), width - GUTTER)
            for cell, width in zip(row, widths, strict=True)
        ]
        _draw_row(sheets, table, widths, heads, cells, bold)


def _draw_row(
    sheets: Sheets,
    table: Table,
    widths: list[float],
    heads: Lines,
    cells: Lines,
    bold: bool,
) -> None:
    """One row; a row higher than a whole page goes on on the next."""
    while cells:
        height = max(map(len, cells)) * STEP + 2 * PAD
        if sheets.need(height):
            _draw_head(sheets, table, widths, heads)
        fitting = max(1, int((sheets.bottom - sheets.y - 2 * PAD) / STEP))
        now = [lines[:fitting] for lines in cells]
        rest = [lines[fitting:] for lines in cells]
        _draw_cells(sheets, table.columns, widths, now, bold)
        cells = rest if any(rest) else []


def _draw_cells(
    sheets: Sheets, columns: tuple[Column, ...], widths: list[float], cells: Lines, bold: bool
) -> None:
    sheets.font(SIZE, bold=bold)
    x = EDGE
    for column, width, lines in zip(columns, widths, cells, strict=True):
        right = column.align is Align.RIGHT
        at = x + width - GUTTER if right else x
        for index, line in enumerate(lines):
            sheets.line(at, sheets.y + PAD + SIZE * PT + index * STEP, line, right=right)
        x += width
    sheets.y += max(map(len, cells)) * STEP + 2 * PAD
    sheets.pdf.set_draw_color(*HAIR)
    sheets.pdf.line(EDGE, sheets.y, EDGE + sheets.width, sheets.y)


def _draw_head(sheets: Sheets, table: Table, widths: list[float], heads: Lines) -> None:
    height = max(map(len, heads)) * STEP + 2 * PAD
    sheets.pdf.set_fill_color(*WASH)
    sheets.pdf.rect(EDGE - 1.5, sheets.y, sheets.width + 3, height, style="F")
    sheets.font(7.5, bold=True)
    sheets.pdf.set_text_color(*QUIET)
    x = EDGE
    for column, width, lines in zip(table.columns, widths, heads, strict=True):
        right = column.align is Align.RIGHT
        at = x + width - GUTTER if right else x
        for index, line in enumerate(lines):
            sheets.line(at, sheets.y + PAD + SIZE * PT + index * STEP, line, right=right)
        x += width
    sheets.pdf.set_text_color(*INK)
    sheets.y += height


def _widths(sheets: Sheets, table: Table) -> list[float]:
    """Column widths by share; the last column's gutter is given back to the table."""
    total = sum(column.share for column in table.columns)
    room = sheets.width + GUTTER
    return [room * column.share / total for column in table.columns]

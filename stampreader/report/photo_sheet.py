"""The photo sheet: corner markers and numbered cells with QR codes, printed for one photo."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from fpdf import FPDF

from stampreader.paper import MARGIN, MARKER, CellPlace, SheetLayout, label_text, marker_rows
from stampreader.report.ink import (
    FACE,
    HAIR,
    INK,
    QUIET,
    fitted,
    id_lines,
    modules,
    new_pdf,
    pdf_bytes,
    qr_rows,
    showable,
)

BAR_MM = 100.0
"""Length of the printed bar by which a person checks the print's scale."""


def photo_sheet_pdf(
    ids: Sequence[str], layout: SheetLayout, printed_at: datetime, title: str = ""
) -> bytes:
    """Photo sheets for connectors, one cell each; as many pages as the ids need.

    Args:
        ids: connector ids in the order of the cells; the last sheet may stay partly empty.
        layout: paper and grid, see `stampreader.paper.LAYOUTS`.
        printed_at: time of printing, also the file's creation date.
        title: a few words for the head of the page, such as the delivery's name.
    """
    pdf = new_pdf(layout.paper, printed_at, f"Photo sheet {title}".strip())
    step = layout.cells_count
    pages = [ids[start : start + step] for start in range(0, max(len(ids), 1), step)]
    for number, page_ids in enumerate(pages, start=1):
        pdf.add_page()
        _head_and_foot(pdf, layout, title, printed_at, f"{number} / {len(pages)}")
        _draw_lines(pdf, layout)
        for marker, place in layout.markers.items():
            modules(pdf, marker_rows(marker), place)
        for index, cell in enumerate(layout.cells):
            shown_id = page_ids[index] if index < len(page_ids) else None
            _draw_cell(pdf, cell, (number - 1) * step + cell.number, shown_id)
    return pdf_bytes(pdf)


def _head_and_foot(
    pdf: FPDF, layout: SheetLayout, title: str, printed_at: datetime, page: str
) -> None:
    left, right = MARGIN + MARKER + 3, layout.paper.width - MARGIN - MARKER - 3
    width, foot = right - left, layout.paper.height - MARGIN
    pdf.set_text_color(*QUIET)
    pdf.set_font(FACE, "", 6.5)
    head = "One connector on each cell, stamp facing up. Keep all four corner marks in the picture."
    if title:
        head = f"{title}: {head[0].lower()}{head[1:]}"
    pdf.text(left, MARGIN + 3, fitted(pdf, showable(head), width, 6.5))
    pdf.set_draw_color(*INK)
    pdf.line(left, foot - 1.2, left + BAR_MM, foot - 1.2)
    for x in (left, left + BAR_MM):
        pdf.line(x, foot - 2.2, x, foot - 0.2)
    note = f"Print at 100 %: this bar is {BAR_MM:.0f} mm."
    pdf.set_font(FACE, "", 5.5)
    pdf.text(left + 1, foot - 1.9, note)
    day = f"{printed_at:%Y-%m-%d}  {page}"
    pdf.text(right - pdf.get_string_width(day), foot - 0.6, day)
    pdf.set_draw_color(*HAIR)


def _draw_lines(pdf: FPDF, layout: SheetLayout) -> None:
    """Hairlines between cells, and between a cell's strip and the place of its connector."""
    cells = layout.cells
    first, last = cells[0].frame, cells[-1].frame
    bottom, right = last.y + last.height, last.x + last.width
    pdf.set_draw_color(*HAIR)
    pdf.set_line_width(0.25)
    for cell in cells[1 : layout.columns]:
        pdf.line(cell.frame.x, first.y + 2, cell.frame.x, bottom - 2)
    for cell in cells[layout.columns :: layout.columns]:
        pdf.line(first.x, cell.frame.y, right, cell.frame.y)
    pdf.set_dash_pattern(dash=0.6, gap=1.4)
    for cell in cells[:: layout.columns]:
        below = cell.free.y == cell.frame.y
        y = cell.free.y + (cell.free.height if below else 0)
        pdf.line(first.x, y, right, y)
    pdf.set_dash_pattern()


def _draw_cell(pdf: FPDF, cell: CellPlace, number: int, connector_id: str | None) -> None:
    if connector_id is None:
        return
    modules(pdf, qr_rows(label_text(connector_id)), cell.qr)
    text = cell.text
    pdf.set_text_color(*INK)
    lines = id_lines(pdf, showable(connector_id), text.width, 10.5)
    step = float(pdf.font_size) * 1.1
    for index, line in enumerate(lines):
        pdf.text(text.x, text.y + step * (0.85 + index) + (4.0 if len(lines) == 1 else 0), line)
    pdf.set_text_color(*QUIET)
    pdf.set_font(FACE, "", 9)
    pdf.text(text.x, text.y + 14.5, f"cell {number}")

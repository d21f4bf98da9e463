"""Documents as PDF pages."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any

from stampreader.report.ink import ACCENT, HAIR, INK, PT, QUIET, WASH, fitted, pdf_bytes, showable
from stampreader.report.page import (
    Block,
    Choices,
    Document,
    Facts,
    Heading,
    Notice,
    Paragraph,
    Picture,
    Pictures,
    Signatures,
    Strengths,
    Table,
    written,
)
from stampreader.report.ruled import draw_table
from stampreader.report.sheet import EDGE, LEADING, Sheets
from stampreader.words import CAUTION

TEXT = 9.0
GAP = 3.2
PICTURE_SIZE = (74.0, 40.0)
"""Largest width and height of an evidence picture, mm."""


def document_pdf(*documents: Document) -> bytes:
    """One or more documents of one shape as a PDF; the same documents give the same bytes.

    Each begins on a page of its own and numbers its own pages. It is set twice: the first time to
    learn how many pages it has.
    """
    assert documents
    pdf = None
    for document in documents:
        pages = _set(Sheets(document), document).page
        pdf = _set(Sheets(document, pages, pdf), document).pdf
    assert pdf is not None
    return pdf_bytes(pdf)


def _set(sheets: Sheets, document: Document) -> Sheets:
    sheets.paragraph(document.title, 17, bold=True)
    if document.subtitle:
        sheets.y += 0.6
        sheets.paragraph(document.subtitle, 10, colour=QUIET)
    sheets.y += GAP
    for block, following in zip(document.blocks, (*document.blocks[1:], None), strict=True):
        if following is not None and type(block) in _WITH_NEXT:
            sheets.need(_WITH_NEXT[type(block)] + _first_part(following))
        _DRAW[type(block)](sheets, block)
    for note in document.notes:
        sheets.paragraph(note, 7.5, colour=QUIET)
    _missing_characters(sheets, document)
    return sheets


def _first_part(block: Block) -> float:
    """About the height that must stay with what is above the block, mm."""
    if isinstance(block, Pictures):
        return PICTURE_SIZE[1] if block.pictures else 6.0
    return {Table: 18.0, Strengths: 32.0, Signatures: 28.0}.get(type(block), 10.0)


def _heading(sheets: Sheets, block: Heading) -> None:
    sheets.y += GAP * 0.6
    sheets.paragraph(block.text, 11, bold=True, colour=ACCENT)
    sheets.y += 1.6


def _paragraph(sheets: Sheets, block: Paragraph) -> None:
    if block.quiet:
        sheets.paragraph(block.text, 8, colour=QUIET)
    else:
        sheets.paragraph(block.text, TEXT)
    sheets.y += GAP * 0.7


def _notice(sheets: Sheets, block: Notice) -> None:
    sheets.font(TEXT, bold=True)
    lines = sheets.wrapped(block.text, sheets.width - 10)
    height = len(lines) * TEXT * PT * LEADING + 4.4
    sheets.need(height)
    pdf = sheets.pdf
    pdf.set_draw_color(*INK)
    pdf.set_line_width(0.4)
    pdf.rect(EDGE, sheets.y, sheets.width, height)
    pdf.set_draw_color(*HAIR)
    pdf.set_line_width(0.2)
    sheets.font(TEXT, bold=True)
    for index, line in enumerate(lines):
        sheets.line(EDGE + 5, sheets.y + 2.4 + TEXT * PT * (1 + index * LEADING), line)
    sheets.y += height + GAP


def _caution(sheets: Sheets) -> None:
    sheets.paragraph(CAUTION, 8.5, bold=True)
    sheets.y += GAP


def _facts(sheets: Sheets, block: Facts) -> None:
    column = (sheets.width - 8) / 2
    names = 27.0
    for start in range(0, len(block.pairs), 2):
        pair = block.pairs[start : start + 2]
        sheets.font(TEXT)
        texts = [sheets.wrapped(written(value) or "–", column - names) for _, value in pair]
        height = max(map(len, texts)) * TEXT * PT * LEADING + 1.7
        sheets.need(height)
        for index, ((name, _), lines) in enumerate(zip(pair, texts, strict=True)):
            x = EDGE + index * (column + 8)
            sheets.pdf.set_text_color(*QUIET)
            sheets.font(8)
            sheets.line(x, sheets.y + TEXT * PT, showable(name))
            sheets.pdf.set_text_color(*INK)
            sheets.font(TEXT)
            for number, line in enumerate(lines):
                sheets.line(x + names, sheets.y + TEXT * PT * (1 + number * LEADING), line)
        sheets.y += height
        sheets.pdf.line(EDGE, sheets.y - 0.6, EDGE + sheets.width, sheets.y - 0.6)
        sheets.y += 0.6
    sheets.y += GAP


def _strengths(sheets: Sheets, block: Strengths) -> None:
    count = len(block.figures)
    gap = 4.0
    width = (sheets.width - gap * (count - 1)) / count
    sheets.font(7.5)
    notes = [sheets.wrapped(figure.note, width - 8) for figure in block.figures]
    height = 19.5 + max(map(len, notes)) * 7.5 * PT * LEADING
    sheets.need(height)
    for index, (figure, lines) in enumerate(zip(block.figures, notes, strict=True)):
        x = EDGE + index * (width + gap)
        sheets.pdf.set_fill_color(*WASH)
        sheets.pdf.rect(x, sheets.y, width, height, style="F")
        sheets.font(8, bold=True)
        direction = fitted(sheets.pdf, showable(figure.direction), width - 8, 8)
        sheets.line(x + 4, sheets.y + 5.4, direction)
        if figure.kN is None:
            sheets.font(13)
            sheets.line(x + 4, sheets.y + 14.2, "no figure")
        else:
            sheets.font(20, bold=True)
            sheets.line(x + 4, sheets.y + 14.6, f"{written(figure.kN)} kN")
        sheets.pdf.set_text_color(*QUIET)
        sheets.font(7.5)
        for number, line in enumerate(lines):
            sheets.line(x + 4, sheets.y + 19.4 + number * 7.5 * PT * LEADING, line)
        sheets.pdf.set_text_color(*INK)
    sheets.y += height + GAP


def _table(sheets: Sheets, block: Table) -> None:
    if block.rows:
        draw_table(sheets, block)
        sheets.y += GAP
    else:
        sheets.paragraph(block.empty, TEXT, colour=QUIET)
        sheets.y += GAP
    if block.margins:
        _caution(sheets)


def _pictures(sheets: Sheets, block: Pictures) -> None:
    if not block.pictures:
        sheets.paragraph(block.empty, TEXT, colour=QUIET)
        sheets.y += GAP
    for picture in block.pictures:
        _picture(sheets, picture)


def _picture(sheets: Sheets, picture: Picture) -> None:
    from PIL import Image

    width, height = Image.open(io.BytesIO(picture.data)).size
    scale = min(PICTURE_SIZE[0] / width, PICTURE_SIZE[1] / height)
    size = (width * scale, height * scale)
    beside = sheets.width - PICTURE_SIZE[0] - 6
    lines: list[tuple[str, bool]] = []
    for index, text in enumerate(picture.lines):
        sheets.font(8.5, bold=index == 0)
        lines += [(line, index == 0) for line in sheets.wrapped(text, beside)]
    step = 8.5 * PT * LEADING
    sheets.need(max(size[1], len(lines) * step + 1))
    top = sheets.y
    sheets.pdf.image(io.BytesIO(picture.data), EDGE, top, size[0], size[1])
    for index, (line, bold) in enumerate(lines):
        sheets.font(8.5, bold=bold)
        sheets.line(EDGE + PICTURE_SIZE[0] + 6, top + 8.5 * PT + index * step, line)
    sheets.y = top + max(size[1], len(lines) * step) + GAP * 1.3


def _choices(sheets: Sheets, block: Choices) -> None:
    sheets.need(14)
    sheets.paragraph(block.question, TEXT)
    sheets.y += 1.4
    x = EDGE
    sheets.pdf.set_draw_color(*INK)
    for answer in block.answers:
        sheets.font(TEXT)
        text = showable(answer)
        needed = 6 + sheets.pdf.get_string_width(text) + 9
        if x + needed > EDGE + sheets.width and x > EDGE:
            x, sheets.y = EDGE, sheets.y + 6
        sheets.pdf.rect(x, sheets.y, 3.6, 3.6)
        sheets.line(x + 5.4, sheets.y + 3.1, text)
        x += needed
    sheets.pdf.set_draw_color(*HAIR)
    sheets.y += 6 + GAP


def _signatures(sheets: Sheets, block: Signatures) -> None:
    per_row = 2
    width = (sheets.width - 12) / per_row
    sheets.need(26)
    sheets.y += GAP * 0.5
    sheets.paragraph(block.statement, TEXT)
    for start in range(0, len(block.roles), per_row):
        sheets.need(17)
        sheets.y += 12
        for index, role in enumerate(block.roles[start : start + per_row]):
            x = EDGE + index * (width + 12)
            sheets.pdf.set_draw_color(*INK)
            sheets.pdf.line(x, sheets.y, x + width, sheets.y)
            sheets.pdf.set_draw_color(*HAIR)
            sheets.pdf.set_text_color(*QUIET)
            sheets.font(7.5)
            sheets.line(x, sheets.y + 3.6, showable(role))
            sheets.line(x + width, sheets.y + 3.6, "name, signature, date", right=True)
            sheets.pdf.set_text_color(*INK)
        sheets.y += 8


def _missing_characters(sheets: Sheets, document: Document) -> None:
    lacking = sum(showable(text).count("□") - text.count("□") for text in document.texts())
    if lacking:
        note = "□ stands for a character the print face lacks; HTML, CSV and XLSX show it."
        sheets.paragraph(note, 7.5, colour=QUIET)


_WITH_NEXT: dict[type, float] = {Heading: 10.0, Choices: 15.0}
"""Blocks that never stand alone at the foot of a page, with their height in mm."""

_DRAW: dict[type, Callable[[Sheets, Any], None]] = {
    Heading: _heading,
    Paragraph: _paragraph,
    Notice: _notice,
    Facts: _facts,
    Strengths: _strengths,
    Table: _table,
    Pictures: _pictures,
    Choices: _choices,
    Signatures: _signatures,
}

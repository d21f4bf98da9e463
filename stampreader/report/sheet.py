"""A pen on numbered pages: where the next line goes, page heads and feet, wrapped text."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence

from fpdf import FPDF
from fpdf.bidi import BidiParagraph

from stampreader.report.ink import (
    ACCENT,
    FACE,
    HAIR,
    INK,
    MONO,
    PT,
    QUIET,
    fitted,
    new_pdf,
    showable,
)
from stampreader.report.page import Document, written

EDGE = 16.0
"""Left and right margin in mm; room for a punch on the left."""
TOP = 22.0
FOOT = 15.5
LEADING = 1.32


def in_reading_order(text: str) -> str:
    """Text with right-to-left names turned the way ink needs them; other text unchanged."""
    if not any(unicodedata.bidirectional(char) in ("R", "AL") for char in text):
        return text
    return str(BidiParagraph(text).get_reordered_string())


class Sheets:
    """Pages of one document, written from top to bottom.

    Attributes:
        pdf: the file being written.
        y: where the next line starts, mm from the top.
    """

    def __init__(self, document: Document, pages: int = 0, pdf: FPDF | None = None) -> None:
        """Begin the document's first page.

        Args:
            document: what is written.
            pages: how many pages it will have, 0 if not known yet.
            pdf: file to go on in; else a new one.
        """
        self.document = document
        self.pages = pages
        self.page = 0
        printing = document.printing
        name = f"{document.kind}: {document.title}"
        self.pdf = pdf or new_pdf(
            printing.paper, printing.printed_at, name, landscape=document.wide
        )
        self.y = TOP
        self.new_page()

    @property
    def width(self) -> float:
        """Width of the text in mm."""
        return float(self.pdf.w) - 2 * EDGE

    @property
    def bottom(self) -> float:
        """Where the text of a page ends, mm from the top."""
        return float(self.pdf.h) - FOOT

    def new_page(self) -> None:
        """Begin a page with its head and foot."""
        self.pdf.add_page()
        self.page += 1
        self._head()
        self._foot()
        self.y = TOP

    def need(self, height: float) -> bool:
        """Begin a page if `height` mm no longer fit; tells whether it did."""
        if self.y + height <= self.bottom or self.y == TOP:
            return False
        self.new_page()
        return True

    def font(self, size: float, *, bold: bool = False, mono: bool = False) -> None:
        """Choose face and size in points."""
        self.pdf.set_font(MONO if mono else FACE, "B" if bold or mono else "", size)

    def line(self, x: float, baseline: float, text: str, *, right: bool = False) -> None:
        """One line of text; `x` is its left end, or its right end."""
        if right:
            x -= self.pdf.get_string_width(text)
        self.pdf.text(x, baseline, in_reading_order(text))

    def paragraph(
        self,
        text: str,
        size: float,
        *,
        bold: bool = False,
        colour: tuple[int, int, int] = INK,
        x: float = EDGE,
        width: float | None = None,
    ) -> None:
        """Running text from `y` down, broken over pages line by line."""
        height = size * PT * LEADING
        self.font(size, bold=bold)
        for line in self.wrapped(text, width or self.width):
            if self.need(height):
                self.font(size, bold=bold)
            self.pdf.set_text_color(*colour)
            self.line(x, self.y + size * PT, line)
            self.y += height
        self.pdf.set_text_color(*INK)

    def wrapped(self, text: str, width: float) -> list[str]:
        """Lines of a text in the current font, at most `width` mm wide; at least one line."""
        lines: list[str] = []
        for part in text.split("\n"):
            lines += self._wrapped_part(showable(part).split(" "), width)
        return lines or [""]

    def _wrapped_part(self, words: Sequence[str], width: float) -> list[str]:
        lines, current = [], ""
        for word in words:
            joined = f"{current} {word}" if current else word
            if self.pdf.get_string_width(joined) <= width:
                current = joined
                continue
            if current:
                lines.append(current)
            *full, current = self._broken_word(word, width)
            lines += full
        return [*lines, current]

    def _broken_word(self, word: str, width: float) -> list[str]:
        """A word too long for a line, broken after a hyphen or slash if there is one."""
        pieces = []
        while self.pdf.get_string_width(word) > width and len(word) > 1:
            fits = 1
            while fits < len(word) and self.pdf.get_string_width(word[: fits + 1]) <= width:
                fits += 1
            soft = max((word.rfind(sign, 1, fits) for sign in "-/_."), default=-1)
            cut = soft + 1 if soft > fits // 2 else fits
            pieces.append(word[:cut])
            word = word[cut:]
        return [*pieces, word]

    def _head(self) -> None:
        pdf, printing = self.pdf, self.document.printing
        half = self.width / 2 - 4
        pdf.set_font(FACE, "B", 8.5)
        pdf.set_text_color(*INK)
        team = fitted(pdf, showable(printing.team), half, 8.5, 6)
        self.line(EDGE, 13.2, team)
        pdf.set_font(FACE, "", 8.5)
        pdf.set_text_color(*QUIET)
        kind = fitted(pdf, showable(self.document.kind), half, 8.5, 6)
        self.line(pdf.w - EDGE, 13.2, kind, right=True)
        pdf.set_draw_color(*ACCENT)
        pdf.set_line_width(0.5)
        pdf.line(EDGE, 15.6, pdf.w - EDGE, 15.6)
        self._hair()
        pdf.set_text_color(*INK)

    def _foot(self) -> None:
        pdf, printing = self.pdf, self.document.printing
        base = pdf.h - 8.0
        self._hair()
        pdf.line(EDGE, base - 4.2, pdf.w - EDGE, base - 4.2)
        pdf.set_text_color(*QUIET)
        pdf.set_font(FACE, "", 7.5)
        zone = f" {printing.printed_at:%Z}".rstrip()
        parts = [f"Printed {written(printing.printed_at)}{zone}"]
        parts += [printing.state] if printing.state else []
        room = self.width - 26
        self.line(EDGE, base, fitted(pdf, showable("  ·  ".join(parts)), room, 7.5, 5))
        pdf.set_font(FACE, "", 7.5)
        self.line(pdf.w - EDGE, base, f"Page {self.page} of {self.pages}", right=True)
        pdf.set_text_color(*INK)

    def _hair(self) -> None:
        self.pdf.set_draw_color(*HAIR)
        self.pdf.set_line_width(0.2)

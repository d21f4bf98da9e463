"""Ink on PDF pages: our faces, creation date, and text the faces can show.

The only module that builds fpdf2 documents; the same input gives the same bytes.
"""

from __future__ import annotations

import logging
import unicodedata
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path

from fpdf import FPDF

from stampreader.errors import UsageError
from stampreader.paper import Paper, Rect

FONTS = Path(__file__).with_name("fonts")
FACE, MONO = "face", "mono"
INK = (28, 33, 40)
QUIET = (96, 104, 114)
HAIR = (198, 203, 209)
WASH = (240, 242, 245)
ACCENT = (32, 74, 104)
PT = 0.352778
"""One point in mm."""
SMALLEST_ID_PT = 4.5
MISSING = "□"
"""Printed for a character that the embedded face does not hold."""

logging.getLogger("fontTools").setLevel(logging.ERROR)
logging.getLogger("fpdf").setLevel(logging.ERROR)


def new_pdf(paper: Paper, printed_at: datetime, title: str, *, landscape: bool = False) -> FPDF:
    """An empty PDF with our faces, in mm, no automatic page breaks.

    The creation date is the time passed in, so that the same input gives the same bytes.
    """
    size = (paper.width, paper.height)
    pdf = FPDF(orientation="landscape" if landscape else "portrait", unit="mm", format=size)
    pdf.set_creation_date(printed_at.astimezone(UTC))
    pdf.set_title(showable(title))
    pdf.set_creator("stampreader")
    pdf.set_auto_page_break(False)
    pdf.set_margin(0)
    pdf.c_margin = 0
    pdf.add_font(FACE, "", FONTS / "DejaVuSansCondensed.ttf")
    pdf.add_font(FACE, "B", FONTS / "DejaVuSansCondensed-Bold.ttf")
    pdf.add_font(MONO, "B", FONTS / "DejaVuSansMono-Bold.ttf")
    pdf.set_text_color(*INK)
    pdf.set_draw_color(*HAIR)
    pdf.set_line_width(0.2)
    return pdf


def pdf_bytes(pdf: FPDF) -> bytes:
    """The finished file."""
    return bytes(pdf.output())


@lru_cache(maxsize=1)
def _known() -> frozenset[int]:
    from fontTools.ttLib import TTFont

    with TTFont(FONTS / "DejaVuSansCondensed-Bold.ttf", lazy=True) as bold:
        cmap = frozenset(bold.getBestCmap())
    with TTFont(FONTS / "DejaVuSansCondensed.ttf", lazy=True) as plain:
        return cmap & frozenset(plain.getBestCmap())


def showable(text: str) -> str:
    """Text that the embedded faces can print on one line.

    Letters with accents are composed, control characters and line ends become spaces, and a
    character the face lacks becomes `□`.
    """
    known = _known()
    composed = unicodedata.normalize("NFC", text)
    return "".join(_shown(char, known) for char in composed)


def _shown(char: str, known: frozenset[int]) -> str:
    kind = unicodedata.category(char)
    if kind == "Cf":  # joiners and direction marks: they have no ink of their own
        return ""
    if kind in ("Cc", "Zl", "Zp"):
        return " "
    return char if ord(char) in known and kind != "Cs" else MISSING


def fitted(pdf: FPDF, text: str, width: float, largest: float, smallest: float = 5.0) -> str:
    """Set the largest size (points) at which `text` fits `width` mm; cut with `…` if none does.

    Returns the text to print, the current font being set to the size found.
    """
    size = largest
    pdf.set_font_size(size)
    while pdf.get_string_width(text) > width and size > smallest:
        size = max(smallest, size - 0.25)
        pdf.set_font_size(size)
    if pdf.get_string_width(text) <= width:
        return text
    while text and pdf.get_string_width(text + "…") > width:
        text = text[:-1]
    return text + "…"


def id_lines(pdf: FPDF, text: str, width: float, height: float) -> list[str]:
    """The id in one line, or broken over several: never cut, for a cut id names another one.

    Leaves the font at the size found.

    Raises:
        UsageError: the id does not fit even in small type.
    """
    size = min(16.0, height * 0.8 / PT)
    while size >= SMALLEST_ID_PT:
        pdf.set_font(MONO, "B", size)
        per_line = int(width / pdf.get_string_width("0"))
        if per_line >= min(len(text), 6):
            words = _broken(text, per_line)
            if len(words) * size * PT * 1.1 <= height and (len(words) == 1 or size <= 9):
                return words
        size -= 0.25
    raise UsageError(f"the id {text} does not fit its place", remedy="Take larger labels or cells.")


def _broken(text: str, per_line: int) -> list[str]:
    """A text in pieces of at most `per_line` characters, after a sign where there is one."""
    pieces = []
    while len(text) > per_line:
        sign = max(text.rfind(sign, 0, per_line) for sign in "-/_.")
        cut = sign + 1 if sign >= per_line // 2 else per_line
        pieces.append(text[:cut])
        text = text[cut:]
    return [*pieces, text]


def modules(pdf: FPDF, rows: tuple[tuple[bool, ...], ...], place: Rect) -> None:
    """Draw black modules (QR symbol, corner marker) into `place`, joined along each row."""
    pdf.set_fill_color(0, 0, 0)
    side = place.width / len(rows[0])
    for index, row in enumerate(rows):
        start = 0
        while start < len(row):
            end = start
            while end < len(row) and row[end] == row[start]:
                end += 1
            if row[start]:
                # a hair of overlap keeps viewers from showing a white seam between rows
                height = side * 1.02 if index < len(rows) - 1 else side
                pdf.rect(
                    place.x + start * side, place.y + index * side,
                    (end - start) * side, height, style="F",
                )  # fmt: skip
            start = end


def qr_rows(text: str) -> tuple[tuple[bool, ...], ...]:
    """The modules of a QR symbol (level M or better, no quiet zone), `True` for black."""
    import segno

    symbol = segno.make(text, error="m", micro=False)
    return tuple(tuple(bool(module) for module in row) for row in symbol.matrix)

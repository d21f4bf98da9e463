"""Strokes as PDF."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from fpdf import FPDF

from stampreader.paper import A4
from stampreader.report.ink import FACE, new_pdf, pdf_bytes, showable
from stampreader.report.rig_picture.strokes import Disc, Line, Stroke, Text


def page_pdf(strokes: Iterable[Stroke], title: str, printed_at: datetime) -> bytes:
    """The page as a PDF file on A4; the same strokes give the same bytes."""
    pdf = new_pdf(A4, printed_at, title)
    pdf.add_page()
    pdf._out("1 J 1 j")  # round ends and corners
    for stroke in strokes:
        if isinstance(stroke, Line):
            _line(pdf, stroke)
        elif isinstance(stroke, Disc):
            _disc(pdf, stroke)
        else:
            _text(pdf, stroke)
    return pdf_bytes(pdf)


def _look(pdf: FPDF, stroke: Line | Disc) -> str:
    """Set colours and width; the style letters of what is to be painted."""
    pdf.set_draw_color(*stroke.colour)
    if stroke.width:
        pdf.set_line_width(stroke.width)
    if stroke.fill is not None:
        pdf.set_fill_color(*stroke.fill)
    return ("D" if stroke.width else "") + ("F" if stroke.fill is not None else "")


def _line(pdf: FPDF, line: Line) -> None:
    style = _look(pdf, line)
    if line.dash:
        pdf.set_dash_pattern(dash=line.dash[0], gap=line.dash[1])
    if line.closed:
        pdf.polygon(list(line.spots), style=style)
    else:
        pdf.polyline(list(line.spots))
    if line.dash:
        pdf.set_dash_pattern()


def _disc(pdf: FPDF, disc: Disc) -> None:
    pdf.circle(disc.at[0], disc.at[1], disc.radius, style=_look(pdf, disc))


def _text(pdf: FPDF, text: Text) -> None:
    pdf.set_font(FACE, "B" if text.bold else "", text.size)
    pdf.set_text_color(*text.colour)
    shown = showable(text.text)
    back = {"left": 0.0, "middle": 0.5, "right": 1.0}[text.align]
    x, y = text.at
    left = x - back * pdf.get_string_width(shown)
    if text.turn_deg:
        with pdf.rotation(-text.turn_deg, x, y):
            pdf.text(left, y, shown)
    else:
        pdf.text(left, y, shown)

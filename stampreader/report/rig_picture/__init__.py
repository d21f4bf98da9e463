"""A rig as a picture on one A4 page: a plan worked out in, the bytes of SVG, PNG or PDF out."""

from __future__ import annotations

from datetime import datetime

from stampreader.errors import StampError
from stampreader.paper import A4
from stampreader.report.rig_picture.page import page
from stampreader.report.rig_picture.png import png_bytes
from stampreader.report.rig_picture.svg import svg_bytes
from stampreader.rig import Worked

KINDS = ("svg", "png", "pdf")

__all__ = ["KINDS", "rig_picture"]


def rig_picture(worked: Worked, kind: str, printed_at: datetime) -> bytes:
    """The picture of a plan that was worked out.

    Args:
        worked: the plan with its forces and margins.
        kind: one of `KINDS`.
        printed_at: the time printed on the page.

    Raises:
        StampError: PDF without fpdf2.
    """
    strokes = page(worked, printed_at)
    if kind == "svg":
        return svg_bytes(strokes, (A4.width, A4.height), worked.plan.title)
    if kind == "png":
        return png_bytes(strokes, (A4.width, A4.height))
    try:
        from stampreader.report.rig_picture.pdf import page_pdf
    except ModuleNotFoundError as error:
        raise StampError(
            "a PDF needs fpdf2, which is not installed",
            remedy="Install it with: pip install 'stampreader[report]', or draw .svg or .png.",
        ) from error
    return page_pdf(strokes, worked.plan.title, printed_at)

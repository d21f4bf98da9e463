"""What a drawing is made of: lines, discs and texts on a page in mm, x right, y down.

Three writers turn the same strokes into SVG, PNG or PDF, so that all three look alike.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from stampreader.paper import Rect

Spot = tuple[float, float]
"""A place on the page in mm."""
Colour = tuple[int, int, int]

INK: Colour = (24, 29, 36)
QUIET: Colour = (92, 100, 110)
HAIR: Colour = (186, 192, 199)
WASH: Colour = (240, 242, 245)
PAPER: Colour = (255, 255, 255)
DEEP: Colour = (20, 82, 128)
AMBER: Colour = (246, 190, 66)
RED: Colour = (150, 22, 30)

FONTS = Path(__file__).parent.parent / "fonts"
PT = 25.4 / 72
"""Millimetres in one point."""


@dataclass(frozen=True, slots=True)
class Line:
    """A line through spots, or an area where it is closed and filled.

    Attributes:
        width: in mm; 0 for no outline.
        dash: lengths of stroke and gap in mm; empty for a full line.
    """

    spots: tuple[Spot, ...]
    width: float = 0.3
    colour: Colour = INK
    dash: tuple[float, ...] = ()
    closed: bool = False
    fill: Colour | None = None


@dataclass(frozen=True, slots=True)
class Disc:
    """A circle."""

    at: Spot
    radius: float
    fill: Colour | None = None
    width: float = 0.3
    colour: Colour = INK


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; `at` is on its base line, at its left, middle or right.

    Attributes:
        size: in points.
        align: `left`, `middle` or `right`.
        turn_deg: turned clockwise about `at`.
    """

    at: Spot
    text: str
    size: float = 8.0
    bold: bool = False
    align: str = "left"
    colour: Colour = INK
    turn_deg: float = 0.0


Stroke = Line | Disc | Text


def box(place: Rect, width: float, colour: Colour = INK, fill: Colour | None = None) -> Line:
    """An upright rectangle, with the width of its outline in mm."""
    return Line(place.corners, width, colour, closed=True, fill=fill)


def width_mm(text: str, size: float, bold: bool = False) -> float:
    """How wide a text is printed, in mm."""
    return float(_face(bold).getlength(text)) / 100 * size * PT


@lru_cache(maxsize=2)
def _face(bold: bool) -> Any:
    from PIL import ImageFont

    return ImageFont.truetype(str(face_file(bold)), 100)


def face_file(bold: bool) -> Path:
    """The file of the face that the texts are set in."""
    return FONTS / f"DejaVuSansCondensed{'-Bold' * bold}.ttf"


def wrapped(text: str, size: float, width: float, bold: bool = False) -> list[str]:
    """A text broken into lines no wider than `width` mm; a longer word stands alone."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        longer = f"{line} {word}".strip()
        if line and width_mm(longer, size, bold) > width:
            lines.append(line)
            longer = word
        line = longer
    return [*lines, line] if line else lines


def shortened_to(text: str, size: float, width: float, bold: bool = False) -> str:
    """A text cut with `…` where it is wider than `width` mm."""
    if width_mm(text, size, bold) <= width:
        return text
    while text and width_mm(text + "…", size, bold) > width:
        text = text[:-1]
    return text + "…"

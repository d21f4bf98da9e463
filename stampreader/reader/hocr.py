"""Characters with their boxes out of hOCR, the open format of text recognition programs."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator
from dataclasses import dataclass, replace
from statistics import median

from stampreader.reader import ReaderStopped

_BOX = re.compile(r"x_bboxes (-?\d+) (-?\d+) (-?\d+) (-?\d+); x_conf (-?[\d.]+)")


@dataclass(frozen=True, slots=True)
class Character:
    """A character or pictogram in a picture.

    Attributes:
        char: as in `words.Glyph.char`.
        x, y: centre.
        width_px, height_px: its box.
        line_px: height of a capital of its line.
        confidence: score of the program over 100.
    """

    char: str
    x: float
    y: float
    width_px: float
    height_px: float
    line_px: float
    confidence: float

    def moved(self, dx: float, dy: float) -> Character:
        """The same character elsewhere."""
        return replace(self, x=self.x + dx, y=self.y + dy)

    def covers(self, other: Character) -> bool:
        """Whether the centre of another lies inside this one's box."""
        return (
            abs(other.x - self.x) <= self.width_px / 2
            and abs(other.y - self.y) <= self.height_px / 2
        )


def read_hocr(text: str) -> tuple[Character, ...]:
    """The characters of an hOCR page made with boxes per character.

    Raises:
        ReaderStopped: the text is not hOCR.
    """
    try:
        page = ElementTree.fromstring(text.encode("utf-8", "replace"))
    except (ElementTree.ParseError, ValueError) as error:
        raise ReaderStopped("Tesseract gave an answer that cannot be understood") from error
    lines = (e for e in page.iter() if e.get("class") in ("ocr_line", "ocr_header", "ocr_caption"))
    return tuple(c for line in lines for c in _line(line))


def _line(line: ElementTree.Element) -> list[Character]:
    """Characters of one line, each with the middle height of its letters and digits."""
    characters = list(_characters(line))
    heights = [c.height_px for c in characters if c.char.isalnum()]
    tall = median(heights) if heights else max((c.height_px for c in characters), default=0.0)
    return [replace(c, line_px=tall) for c in characters]


def _characters(line: ElementTree.Element) -> Iterator[Character]:
    for element in line.iter():
        found = _BOX.search(element.get("title", ""))
        char = (element.text or "").strip().upper()
        if not found or len(char) != 1 or not char.isprintable():
            continue
        left, top, right, bottom, score = map(float, found.groups())
        yield Character(
            char,
            (left + right) / 2,
            (top + bottom) / 2,
            max(right - left, 1.0),
            max(bottom - top, 1.0),
            0.0,
            min(max(score / 100.0, 0.0), 1.0),
        )

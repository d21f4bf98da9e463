"""What the tests of reading share: photos in memory and readers that see what they are told."""

from dataclasses import dataclass, field, replace

import numpy as np

from stampreader.photo import photo_from_pixels
from stampreader.words import Glyph

SIZE = 40.0


def line(text, x=200.0, y=300.0, confidence=0.99):
    """Glyphs of a line read from left to right: words parted by spaces, `<names>` as pictograms."""
    glyphs, slot = [], 0
    for word in text.split():
        chars = [word] if word.startswith("<") else list(word)
        for char in chars:
            width = 2 * SIZE if char.startswith("<") else 0.7 * SIZE
            slot = {"<closed>": 1, "<cross>": 2, "<open>": 3}.get(char, slot)
            role = slot if char.startswith("<") or char.isdigit() else 0
            votes = tuple(0.96 if n == role else 0.01 for n in range(5))
            glyphs.append(Glyph(char, x + width / 2, y, SIZE, width, 0.0, confidence, role=votes))
            x += width + 0.1 * SIZE
        x += 0.6 * SIZE
    return tuple(glyphs)


STAMP = line("<closed> 27KN <cross> 8KN <open> 7KN")
MARKS = line("CE 9123 EN 362:2004/B", y=420)


@dataclass
class Seeing:
    """A reader that sees given glyphs, and remembers the faces it was shown."""

    glyphs: tuple = ()
    name: str = "seeing"
    version: str = "1"
    slow: bool = False
    shown: list = field(default_factory=list)

    def read_glyphs(self, photo, faces):
        """What it was told to see."""
        self.shown.append(faces)
        return tuple(replace(g, reader=self.name) for g in self.glyphs)


def grey_photo(width=1200, height=900, name="bench/one.jpg"):
    """A plain grey photo."""
    return photo_from_pixels(np.full((height, width), 128, np.uint8), name)

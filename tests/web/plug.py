"""Readers for the phone's photos that see what the photo's width tells them to."""

import os
import signal
import time
from dataclasses import dataclass

from stampreader.figures import Caps
from stampreader.reading import Desk
from stampreader.words import Glyph

SURE, NOTHING, CRASH, HANG, RAISE, FAINT = 1200, 1202, 1204, 1206, 1208, 1210
"""Widths of photos, and what happens with them."""
SIZE = 40.0


def line(text, confidence, x=200.0, y=300.0):
    """Glyphs of a line read from left to right; `<names>` are pictograms."""
    glyphs, slot = [], 0
    for word in text.split():
        for char in [word] if word.startswith("<") else list(word):
            width = 2 * SIZE if char.startswith("<") else 0.7 * SIZE
            slot = {"<closed>": 1, "<cross>": 2, "<open>": 3}.get(char, slot)
            role = slot if char.startswith("<") or char.isdigit() else 0
            votes = tuple(0.96 if n == role else 0.01 for n in range(5))
            glyphs.append(Glyph(char, x + width / 2, y, SIZE, width, 0.0, confidence, role=votes))
            x += width + 0.1 * SIZE
        x += 0.6 * SIZE
    return tuple(glyphs)


@dataclass
class Seeing:
    """A reader that does what the width of the photo says."""

    name: str
    version: str = "1"

    def read_glyphs(self, photo, faces):
        """See a stamp, nothing, or come to grief."""
        width = photo.size[0]
        if width == CRASH:
            os.kill(os.getpid(), signal.SIGSEGV)
        if width == HANG:
            time.sleep(120)
        if width == RAISE:
            raise RuntimeError("/secret/place/of/weights")
        if width == NOTHING:
            return ()
        confidence = 0.5 if width == FAINT else 0.99
        return line("<closed> 27KN <cross> 8KN <open> 7KN", confidence)


def nowhere(_photo):
    """A finder for readers that need none."""
    return ()


def desk():
    """Two readers that agree."""
    return Desk((Seeing("one"), Seeing("two")), nowhere, Caps())

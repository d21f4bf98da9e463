"""Room reader: pixels in, glyphs out.

A reader takes an upright photo and the faces found on it, and gives the characters and pictograms
it sees, in pixels of the upright photo. Readers share one protocol and are passed in, so that two
independent ones can be compared and tests need no patching.
"""

from __future__ import annotations

from typing import Protocol

from stampreader.errors import ReaderError
from stampreader.photo import Photo
from stampreader.spine import Face
from stampreader.words import Glyph


class Reader(Protocol):
    """What every reader offers.

    Attributes:
        name: short word, stands in `Glyph.reader` and in the output.
        version: of the weights or the program, recorded with every reading.
    """

    @property
    def name(self) -> str:
        """Short word, such as `net`."""
        ...

    @property
    def version(self) -> str:
        """Version of the weights or the program."""
        ...

    def read_glyphs(self, photo: Photo, faces: tuple[Face, ...]) -> tuple[Glyph, ...]:
        """The glyphs on the faces of a photo.

        Raises:
            ReaderStopped: this photo could not be read by this reader; others go on.
        """
        ...


class ReaderStopped(ReaderError):
    """A reader gave up on one photo: its program timed out or crashed.

    The reading goes on with the other readers and carries the reason as a note.
    """

    kind = "reader-stopped"
    remedy = "Read the photo again, or take it closer and sharper."


__all__ = ["Reader", "ReaderStopped"]

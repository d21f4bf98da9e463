"""Reader on the Tesseract program: characters on straightened strips, each way round.

The program is run through pytesseract; it is the one place where another program is started. It
is weak on metal and serves as an independent voice beside the embedded readers.
"""

from __future__ import annotations

import math
import os
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from stampreader.errors import ReaderError
from stampreader.photo import Photo
from stampreader.reader import ReaderStopped
from stampreader.reader.hocr import Character, read_hocr
from stampreader.reader.shapes import find_pictograms
from stampreader.spine import Face, quad_angle, quad_size, straighten
from stampreader.spine.straighten import strip_shape, to_photo
from stampreader.words import Glyph, Quad

CHARACTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZkN./:-"
ARGUMENTS = (
    f"--psm 6 -c hocr_char_boxes=1 -c tessedit_char_whitelist={CHARACTERS} -c user_defined_dpi=150"
)
"""Page mode 6: a block of lines, which the stacked strips are."""

GLYPH_PX = 40
"""Height a character is brought to; the program works best between 30 and 45 pixels."""
GAP_PX = 24
WORDS = ("KN", "CE", "EN", "UIAA", "NFPA", "ANSI", "UKCA")
WORD_BONUS = 4.0
MOST_FACES = 8
MOST_PX = 1_000_000
"""Pixels of all strips together; a face that needs more by itself is texture, not a stamp."""

Pixels = npt.NDArray[np.uint8]
Run = Callable[[Pixels, str, float], str]
"""Picture, arguments and seconds allowed; gives hOCR text. May raise `ReaderStopped`."""


@dataclass(frozen=True, slots=True)
class Strip:
    """One face laid out in one direction, and where it stands in the stacked picture."""

    face: int
    quad: Quad
    pixels: Pixels
    top_px: int
    signs: tuple[Character, ...] = ()


class TesseractReader:
    """The Tesseract program as a reader.

    Attributes:
        name: `tesseract`.
        version: of the program.
        slow: it takes longer than all others together, so it is asked where it can matter.
    """

    name = "tesseract"
    slow = True

    def __init__(
        self, version: str | None = None, run: Run | None = None, seconds: float = 8.0
    ) -> None:
        """Find the program.

        Args:
            version: of the program; asked of it when not given.
            run: how to run it; tests pass recordings.
            seconds: allowed for one photo.

        Raises:
            ReaderError: the program is not installed.
        """
        self.version = version if version is not None else program_version()
        self._run = run if run is not None else run_program
        self._seconds = seconds

    def read_glyphs(self, photo: Photo, faces: tuple[Face, ...]) -> tuple[Glyph, ...]:
        """Characters and pictograms on faces; each face is read the way round that reads best.

        `Glyph.confidence` is the program's own character score over 100, not calibrated.

        Raises:
            ReaderStopped: the program timed out or failed on this photo.
        """
        end = time.monotonic() + self._seconds
        chosen = sorted(faces, key=lambda face: -face.score)[:MOST_FACES]
        found: dict[int, list[tuple[Glyph, ...]]] = {}
        for quarter in range(4):
            strips = _strips(photo, chosen, quarter)
            if not strips:
                continue
            left = end - time.monotonic()
            if left <= 0:
                raise _stopped("took too long")
            text = self._run(_stacked(strips), ARGUMENTS, left)
            for face, glyphs in _glyphs(strips, read_hocr(text)).items():
                found.setdefault(face, []).append(glyphs)
        return tuple(g for ways in found.values() for g in max(ways, key=_weight))


def program_version() -> str:
    """Version of the installed program.

    Raises:
        ReaderError: it is not installed or does not start.
    """
    import pytesseract

    try:
        return str(pytesseract.get_tesseract_version())
    except (pytesseract.TesseractNotFoundError, OSError, SystemExit) as error:
        raise ReaderError(
            "the Tesseract program is not installed",
            remedy="Install it (Debian: `apt install tesseract-ocr`), or read without it.",
        ) from error


def run_program(picture: Pixels, arguments: str, seconds: float) -> str:
    """Run Tesseract once, on one core.

    Raises:
        ReaderStopped: it took too long, crashed, or its language data are missing.
    """
    import pytesseract

    os.environ.setdefault("OMP_THREAD_LIMIT", "1")
    try:
        answer: Any = pytesseract.image_to_pdf_or_hocr(
            picture, lang="eng", extension="hocr", config=arguments, timeout=seconds
        )
    except (RuntimeError, OSError) as error:  # TesseractError and the timeout are RuntimeErrors
        reason = "took too long" if "timeout" in str(error).lower() else "failed"
        raise _stopped(reason) from error
    return answer.decode("utf-8", "replace") if isinstance(answer, bytes) else str(answer)


def _stopped(reason: str) -> ReaderStopped:
    return ReaderStopped(f"Tesseract {reason} on this photo and read nothing")


def _strips(photo: Photo, faces: Sequence[Face], quarter: int) -> list[Strip]:
    """The faces turned by quarter turns, prepared and stacked; those it makes sense for."""
    strips, top, room = [], GAP_PX, MOST_PX
    for number, face in enumerate(faces):
        length, height = quad_size(face.quad)
        squarish = length < 1.8 * height
        if quarter and (face.directed or (quarter % 2 and not squarish)):
            continue
        quad = _turned(face.quad, quarter)
        wanted = round(quad_size(quad)[1] / max(face.glyph_px, 1.0) * GLYPH_PX)
        room_needed = wanted * strip_shape(quad, wanted)[0]
        if room_needed > room:
            continue
        room -= room_needed
        pixels = _evened(straighten(photo, quad, max(16, wanted)))
        signs = find_pictograms(pixels, GLYPH_PX)
        strips.append(Strip(number, quad, _without(pixels, signs), top, signs))
        top += pixels.shape[0] + GAP_PX
    return strips


def _turned(quad: Quad, quarter: int) -> Quad:
    """The same corners read from another side."""
    a, b, c, d = (quad[(i + quarter) % 4] for i in range(4))
    return a, b, c, d


def _evened(strip: Pixels) -> Pixels:
    """Even light, stretched contrast, dark letters on a light ground."""
    light = cv2.GaussianBlur(strip, (0, 0), GLYPH_PX)
    flat = cv2.addWeighted(strip, 1.0, light, -1.0, 128.0)
    low, high = np.percentile(flat, (1, 99))
    scaled = np.clip((flat.astype(np.float32) - low) * (255.0 / max(high - low, 1.0)), 0, 255)
    even: Pixels = scaled.astype(np.uint8)
    return even if np.median(even) >= even.mean() else 255 - even


def _without(strip: Pixels, signs: Sequence[Character]) -> Pixels:
    """The strip with pictograms and the arrows at their ends painted over, lest they be letters."""
    clear = strip.copy()
    for sign in signs:
        wide, high = sign.width_px / 2 + 0.45 * GLYPH_PX, sign.height_px / 2 + 2
        left, top = max(0, round(sign.x - wide)), max(0, round(sign.y - high))
        clear[top : round(sign.y + high), left : round(sign.x + wide)] = np.median(strip)
    return clear


def _stacked(strips: Sequence[Strip]) -> Pixels:
    """The strips one below the other on white."""
    width = max(strip.pixels.shape[1] for strip in strips) + 2 * GAP_PX
    height = strips[-1].top_px + strips[-1].pixels.shape[0] + GAP_PX
    page = np.full((height, width), 255, np.uint8)
    for strip in strips:
        rows, columns = strip.pixels.shape
        page[strip.top_px : strip.top_px + rows, GAP_PX : GAP_PX + columns] = strip.pixels
    return page


def _glyphs(
    strips: Sequence[Strip], characters: Sequence[Character]
) -> dict[int, tuple[Glyph, ...]]:
    """Glyphs of each face in photo pixels; characters inside a pictogram are left out."""
    found = {}
    for strip in strips:
        rows, columns = strip.pixels.shape
        own = [
            c.moved(-GAP_PX, -strip.top_px)
            for c in characters
            if strip.top_px <= c.y < strip.top_px + rows and GAP_PX <= c.x < GAP_PX + columns
        ]
        own = [c for c in own if not any(sign.covers(c) for sign in strip.signs)]
        found[strip.face] = tuple(_glyph(strip, c) for c in (*own, *strip.signs))
    return found


def _glyph(strip: Strip, character: Character) -> Glyph:
    """A character of a strip as a glyph in photo pixels."""
    back = to_photo(strip.quad, strip.pixels.shape[0])
    scale = quad_size(strip.quad)[1] / strip.pixels.shape[0]
    (x, y), *_ = cv2.perspectiveTransform(
        np.array([[(character.x, character.y)]], np.float64), back
    )[0]
    return Glyph(
        char=character.char,
        x=float(x),
        y=float(y),
        height_px=character.line_px * scale,
        width_px=character.width_px * scale,
        angle_deg=quad_angle(strip.quad),
        confidence=character.confidence,
        reader=TesseractReader.name,
    )


def _weight(glyphs: Sequence[Glyph]) -> float:
    """How well a face reads one way round: the sum of log odds, with a bonus for known words.

    Upside-down text is read with high scores too, so words that only stand upright count extra.
    """
    odds = [min(max(g.confidence, 0.01), 0.99) for g in glyphs]
    text = "".join(g.char if len(g.char) == 1 else " " for g in glyphs)
    bonus = WORD_BONUS * sum(text.count(word) for word in WORDS)
    return bonus + sum(math.log(p / (1.0 - p)) for p in odds)

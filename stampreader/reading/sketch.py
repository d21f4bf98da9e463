"""The photo with what was read drawn on it, to show to a colleague.

Every figure has its own colour (from the Okabe-Ito palette, told apart by colour-blind people),
its own word, and a line that tells its state: unbroken for sure, broken for ask. What could not
be read, and why, stands below the photo.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from stampreader.errors import UsageError
from stampreader.photo import Photo, printable
from stampreader.photo.decode import Pixels
from stampreader.reading.evidence import as_jpeg
from stampreader.reading.plates import Colour, Plates, text_band
from stampreader.reading.say import figure_words, stamp_sentences
from stampreader.words import SLOTS, Quad, Reading, Slot, Stamp, State

Corner = npt.NDArray[Any]
"""Points in pixels of the canvas."""

COLOURS: dict[Slot, Colour] = {
    Slot.CLOSED: (178, 114, 0),
    Slot.CROSS: (0, 94, 213),
    Slot.OPEN: (115, 158, 0),
}
"""Blue, vermilion and bluish green, as BGR."""
MARK_COLOUR: Colour = (60, 60, 60)
WHITE: Colour = (255, 255, 255)

SHORT_PX = 900
"""A smaller picture is enlarged to this long side first, so that words stay legible."""
LONG_PX = 2400
"""A larger one is made smaller."""


def sketch(photo: Photo, reading: Reading, suffix: str = ".jpg") -> bytes:
    """The photo in colour with boxes and values, as a JPEG or PNG file.

    Raises:
        UsageError: the suffix is neither.
    """
    if suffix.lower() not in (".jpg", ".jpeg", ".png"):
        raise UsageError(
            f"a picture cannot be written as {suffix or 'a file without an ending'}",
            remedy="Name it .jpg or .png.",
        )
    canvas, scale = _canvas(photo.colour())
    size_px = max(16, round(max(canvas.shape[:2]) / 52))
    plates = Plates(canvas, size_px)
    for number, stamp in enumerate(reading.stamps, 1):
        _draw_stamp(canvas, plates, stamp, scale, number if len(reading.stamps) > 1 else 0)
    plates.draw()
    whole = np.vstack([canvas, text_band(_footer(reading), canvas.shape[1], size_px)])
    if suffix.lower() == ".png":
        return cv2.imencode(".png", whole)[1].tobytes()
    return as_jpeg(whole, 90)


def _canvas(colour: Pixels) -> tuple[Pixels, float]:
    """A copy of the photo at a size to look at, and its scale."""
    longest = max(colour.shape[:2])
    scale = min(max(longest, SHORT_PX), LONG_PX) / longest
    if scale == 1:
        return colour.copy(), 1.0
    how = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    size = (max(1, round(colour.shape[1] * scale)), max(1, round(colour.shape[0] * scale)))
    return cv2.resize(colour, size, interpolation=how), scale  # type: ignore[return-value]


def _draw_stamp(canvas: Pixels, plates: Plates, stamp: Stamp, scale: float, number: int) -> None:
    prefix = f"{number}: " if number else ""
    if stamp.box is not None:
        plates.keep_clear(_outline(stamp.box, scale))
    for mark in stamp.marks:
        if mark.box is not None:
            outline = _outline(mark.box, scale)
            _frame(canvas, outline, MARK_COLOUR, broken=False)
            plates.add(outline, f"{prefix}{mark.text}", MARK_COLOUR)
    for slot in SLOTS:
        figure = stamp.figure(slot)
        if figure.box is not None:
            outline = _outline(figure.box, scale)
            _frame(canvas, outline, COLOURS[slot], broken=figure.state is not State.SURE)
            plates.add(outline, prefix + figure_words(slot, figure), COLOURS[slot])


def _outline(box: Quad, scale: float) -> Corner:
    """A box in pixels of the canvas, a little outside what it surrounds."""
    corners = np.asarray(box, float) * scale
    middle = corners.mean(axis=0)
    away = corners - middle
    reach = np.linalg.norm(away, axis=1, keepdims=True)
    outline: Corner = middle + away * (1 + 5.0 / np.maximum(reach, 1.0))
    return outline.round().astype(np.int32)


def _frame(canvas: Pixels, outline: Corner, colour: Colour, *, broken: bool) -> None:
    """An outline in a colour on a white rim, so that it shows on any ground."""
    pen = max(2, round(max(canvas.shape[:2]) / 700))
    for a, b in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        for start, end in _dashes(a, b, 6 * pen) if broken else [(a, b)]:
            p, q = (int(start[0]), int(start[1])), (int(end[0]), int(end[1]))
            cv2.line(canvas, p, q, WHITE, 2 * pen + 1, cv2.LINE_AA)
            cv2.line(canvas, p, q, colour, pen, cv2.LINE_AA)


def _dashes(a: Corner, b: Corner, length_px: float) -> list[tuple[Corner, Corner]]:
    count = max(1, round(float(np.linalg.norm(b - a)) / (2 * length_px)))
    step = (b - a) / count
    return [(a + step * (i + 0.1), a + step * (i + 0.6)) for i in range(count)]


def _footer(reading: Reading) -> list[str]:
    """What stands below the photo: name, every stamp in words, notes."""
    lines = [f"{printable(reading.photo)}: {reading.outcome.value}"]
    for number, stamp in enumerate(reading.stamps, 1):
        prefix = f"{number}: " if len(reading.stamps) > 1 else ""
        lines += [prefix + sentence for sentence in stamp_sentences(stamp)]
    return [*lines, *reading.notes]

"""The picture of a stack: the best single shot, the two maps, and what all of it gave."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from stampreader.errors import UsageError
from stampreader.photo import Photo, printable
from stampreader.photo.decode import Pixels
from stampreader.reading.evidence import as_jpeg
from stampreader.reading.plates import text_band
from stampreader.reading.say import stamp_sentences
from stampreader.reading.shots import StackReading

WIDE_PX = 1400
"""Width of the picture."""
WRITING_PX = 22


def side_by_side(photos: Sequence[Photo], found: StackReading, suffix: str = ".jpg") -> bytes:
    """The best single shot, the relief map, the reflectance map and the reading, as a file.

    The face is turned so that its marks read from left to right.

    Raises:
        UsageError: the suffix is neither .jpg nor .png.
    """
    if suffix.lower() not in (".jpg", ".jpeg", ".png"):
        raise UsageError(
            f"a picture cannot be written as {suffix or 'a file without an ending'}",
            remedy="Name it .jpg or .png.",
        )
    stack, turned = found.stack, _is_turned(found)
    best = found.stack.fits[found.best]
    assert best.to_shot is not None, "the best shot is one of those that fit"
    name = printable(photos[found.best].path.name)
    shown = [
        (f"Best single shot: {name}", stack.frame.cut(photos[found.best].colour(), best.to_shot)),
        ("Relief map (sunk and raised look alike)", found.relief.height),
        ("Reflectance map (laser marks, paint)", found.relief.reflectance),
    ]
    parts = [part for title, pixels in shown for part in _row(title, pixels, turned)]
    parts.append(text_band(_words(found), WIDE_PX, WRITING_PX))
    whole = np.vstack(parts)
    if suffix.lower() == ".png":
        return cv2.imencode(".png", whole)[1].tobytes()
    return as_jpeg(whole, 90)


def _is_turned(found: StackReading) -> bool:
    """Whether the marks run against the frame's direction."""
    if not found.reading.stamps:
        return False
    a, b = (np.asarray(corner) for corner in found.stack.frame.quad[:2])
    turn = float(np.degrees(np.arctan2(*(b - a)[::-1])))
    off = (found.reading.stamps[0].angle_deg - turn + 180.0) % 360.0 - 180.0
    return bool(abs(off) > 90.0)


def _row(title: str, pixels: Pixels, turned: bool) -> list[Pixels]:
    if turned:
        pixels = np.asarray(cv2.rotate(pixels, cv2.ROTATE_180), np.uint8)
    if pixels.ndim == 2:
        pixels = np.asarray(cv2.cvtColor(pixels, cv2.COLOR_GRAY2BGR), np.uint8)
    scale = WIDE_PX / pixels.shape[1]
    size = (WIDE_PX, max(1, round(pixels.shape[0] * scale)))
    how = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    grown = np.asarray(cv2.resize(pixels, size, interpolation=how), np.uint8)
    return [text_band([title], WIDE_PX, WRITING_PX), grown]


def _words(found: StackReading) -> list[str]:
    """What all shots together gave, in sentences."""
    reading = found.reading
    lines = [f"All {len(found.stack.used)} shots together: {reading.outcome.value}"]
    for stamp in reading.stamps:
        lines += stamp_sentences(stamp)
    return [*lines, *reading.notes]

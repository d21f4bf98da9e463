"""Pictures a person checks a reading against: the crop of a stamp, laid out to be read."""

from __future__ import annotations

import math

import cv2
import numpy as np

from stampreader.photo import Photo
from stampreader.photo.decode import Pixels
from stampreader.spine import face_along, quad_size, straighten
from stampreader.words import Quad, Stamp

MARGIN = 0.35
"""Space left round the stamp, as a share of its height."""
MOST_PX = 900
"""Longest side of a crop; keeps a register of thousands small."""
FEWEST_PX = 120
QUALITY = 85


def evidence_crop(photo: Photo, stamp: Stamp) -> bytes:
    """The part of a photo that shows a stamp, turned so that it reads from left to right.

    Returns:
        A JPEG in colour, its long side at most `MOST_PX`. Without a box the whole photo.
    """
    quad = evidence_quad(stamp)
    if quad is None:
        return whole_photo(photo, MOST_PX)
    length, height = quad_size(quad)
    longest = max(length, height)
    scale = min(MOST_PX / longest, max(1.0, FEWEST_PX / longest))
    return as_jpeg(straighten(photo.colour(), quad, max(1, round(height * scale))))


def evidence_quad(stamp: Stamp) -> Quad | None:
    """Where in the photo the evidence crop of a stamp was cut from; `None` for the whole photo."""
    return None if stamp.box is None else _with_margin(stamp.box, stamp.angle_deg)


def whole_photo(photo: Photo, longest_px: int) -> bytes:
    """The whole photo, upright and in colour, as a JPEG no longer than `longest_px`."""
    return as_jpeg(_at_most(photo.colour(), longest_px))


def as_jpeg(pixels: Pixels, quality: int = QUALITY) -> bytes:
    """Pixels, `(H, W)` grey or `(H, W, 3)` BGR uint8, as a JPEG file."""
    done, data = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, quality])
    assert done, "a picture in memory can always be written as JPEG"
    return data.tobytes()


def _with_margin(box: Quad, angle_deg: float) -> Quad:
    """The rectangle along the reading direction that holds a box, and some space round it."""
    corners = np.asarray(box, float)
    turn = math.radians(angle_deg)
    along = np.array([math.cos(turn), math.sin(turn)])
    down = np.array([-along[1], along[0]])
    u, v = corners @ along, corners @ down
    length, height = np.ptp(u), np.ptp(v)
    space = 2 * MARGIN * max(min(length, height), 8.0)
    centre = along * (u.min() + length / 2) + down * (v.min() + height / 2)
    return face_along(
        (float(centre[0]), float(centre[1])), length + space, height + space, angle_deg
    )


def _at_most(pixels: Pixels, longest: int) -> Pixels:
    scale = longest / max(pixels.shape[:2])
    if scale >= 1:
        return pixels
    return cv2.resize(pixels, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)  # type: ignore[return-value]

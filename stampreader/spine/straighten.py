"""Laying a quadrilateral of a photo out straight."""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from stampreader.photo import Photo
from stampreader.spine.face import quad_size
from stampreader.words import Quad

Pixels = npt.NDArray[np.uint8]

MAX_LENGTH_PX = 8192
"""Longest strip made; a longer one comes out lower than asked."""


def straighten(photo: Photo | Pixels, quad: Quad, height_px: int) -> Pixels:
    """The pixels of a quadrilateral as an upright strip, text from left to right.

    Args:
        photo: a photo (its grey pixels are used), or `(H, W)` or `(H, W, 3) uint8`.
        quad: corners in the upright photo, top-left first as the text is read.
        height_px: height of the strip; its length keeps the quadrilateral's shape.

    Returns:
        `(height_px, length) uint8`, or with the channels given; outside the photo the edge
        pixels go on.
    """
    pixels = photo if isinstance(photo, np.ndarray) else photo.grey
    strip_size = strip_shape(quad, height_px)
    cutting, shift, scale = _cut(pixels, quad, height_px)
    turn = cv2.getPerspectiveTransform(
        ((np.asarray(quad) - shift + 0.5) * scale - 0.5).astype(np.float32),
        _corners(*strip_size),
    )
    return cv2.warpPerspective(  # type: ignore[return-value]
        cutting, turn, strip_size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )


def strip_shape(quad: Quad, height_px: int) -> tuple[int, int]:
    """(length, height) of the strip of a quadrilateral, kept under `MAX_LENGTH_PX`."""
    length, height = quad_size(quad)
    ratio = length / max(height, 1e-6)
    height_px = max(1, min(height_px, int(MAX_LENGTH_PX / max(ratio, 1e-6))))
    return max(1, min(MAX_LENGTH_PX, round(height_px * ratio))), height_px


def to_photo(quad: Quad, height_px: int) -> npt.NDArray[np.float64]:
    """The `(3, 3)` matrix that takes points of the strip back to the photo."""
    length, height = strip_shape(quad, height_px)
    return cv2.getPerspectiveTransform(  # type: ignore[return-value]
        _corners(length, height), np.asarray(quad, np.float32)
    )


def _corners(length: int, height: int) -> npt.NDArray[np.float32]:
    return np.array([(0, 0), (length, 0), (length, height), (0, height)], np.float32)


def _cut(
    pixels: Pixels, quad: Quad, height_px: int
) -> tuple[Pixels, npt.NDArray[np.float64], float]:
    """The part round a quadrilateral, made smaller by area first so that nothing flickers.

    Returns:
        The cutting, the photo coordinates of its corner, and its scale.
    """
    corners = np.asarray(quad, float)
    low = np.maximum(np.floor(corners.min(axis=0)) - 2, 0).astype(int)
    high = np.ceil(corners.max(axis=0)).astype(int) + 3
    limit = np.array(pixels.shape[1::-1])
    low = np.minimum(low, limit - 1)
    high = np.clip(high, low + 1, limit)
    cutting = pixels[low[1] : high[1], low[0] : high[0]]
    scale = min(1.0, height_px / max(quad_size(quad)[1], 1e-6))
    if scale < 0.7:
        size = tuple(max(1, round(side * scale)) for side in cutting.shape[1::-1])
        cutting = cv2.resize(cutting, size, interpolation=cv2.INTER_AREA)  # type: ignore[assignment]
    else:
        scale = 1.0
    return cutting, low.astype(float), scale

"""QR labels stuck beside a connector; their text is data and never used as a path."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from stampreader.photo.decode import Pixels
from stampreader.photo.file import Photo
from stampreader.words import Point, Quad

SEARCH_PX = 1000
"""Long side at which labels are looked for; a label found is decoded at full size."""

DECODE_PX = 600
"""Long side of the cutting a label is decoded from, at most."""

SMALLEST_PX = 21
"""A QR code has at least 21 modules a side (ISO/IEC 18004)."""

MAX_TEXT = 300


@dataclass(frozen=True, slots=True)
class Label:
    """A QR code: its text (printable characters only) and its corners in the upright photo."""

    text: str
    quad: Quad


def read_labels(photo: Photo) -> tuple[Label, ...]:
    """QR codes of a photo, left to right; empty when there is none or none can be decoded."""
    scale = min(1.0, SEARCH_PX / max(photo.size))
    seen: dict[str, Label] = {}
    for corners in _detect(_scaled(photo.grey, scale)):
        label = _decode(photo.grey, corners / scale)
        if label is not None:
            seen.setdefault(label.text, label)
    return tuple(sorted(seen.values(), key=lambda label: label.quad[0]))


def _detect(grey: Pixels) -> list[npt.NDArray[np.float64]]:
    """Corners of what looks like a QR code, each `(4, 2)`."""
    if min(grey.shape) < SMALLEST_PX:
        return []
    try:
        found, corners = cv2.QRCodeDetectorAruco().detectMulti(grey)
    except cv2.error:
        return []
    return list(np.asarray(corners, float).reshape(-1, 4, 2)) if found else []


def _decode(grey: Pixels, corners: npt.NDArray[np.float64]) -> Label | None:
    """Decode the label around rough corners, on a cutting with a quiet zone."""
    size = np.ptp(corners, axis=0).max()
    low = np.maximum(corners.min(axis=0) - size / 3, 0).astype(int)
    high = (corners.max(axis=0) + size / 3).astype(int)
    cutting = grey[low[1] : high[1], low[0] : high[0]]
    if min(cutting.shape) < SMALLEST_PX:
        return None
    scale = min(1.0, DECODE_PX / max(cutting.shape))
    try:
        _, texts, quads, _ = cv2.QRCodeDetectorAruco().detectAndDecodeMulti(_scaled(cutting, scale))
    except (cv2.error, UnicodeDecodeError):
        return None
    for text, quad in zip(texts or (), np.asarray(quads).reshape(-1, 4, 2), strict=False):
        if clean := "".join(c for c in text if c.isprintable())[:MAX_TEXT].strip():
            a, b, c, d = (_point(p) for p in quad / scale + low)
            return Label(clean, (a, b, c, d))
    return None


def _point(xy: npt.NDArray[np.float64]) -> Point:
    return float(xy[0]), float(xy[1])


def _scaled(grey: Pixels, scale: float) -> Pixels:
    if scale >= 1:
        return grey
    return cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)  # type: ignore[return-value]

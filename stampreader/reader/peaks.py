"""From the detector's raw maps to glyphs. Arithmetic on arrays, no network, no photo."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
import numpy.typing as npt

from stampreader.reader.alphabet import CLASSES, ROLES

Array = npt.NDArray[np.float32]
CELL = 4
"""Pixels of the detector's input a cell of its maps stands for."""
UNIT_PX = 32.0
"""Sizes are learned as logarithms of multiples of this."""
PEAK_AT = 0.15
"""Least height of a peak that is looked at."""
MOST = 400
"""Peaks looked at in one place, the highest first; noise has thousands."""
APART = 0.36
"""Two peaks nearer than this part of their height are one glyph."""
_ENDS = np.cumsum([0, 1, len(CLASSES), len(ROLES), 2, 2, 2])


@dataclass(frozen=True)
class Peaks:
    """N glyph candidates in pixels of the picture that was read.

    Attributes:
        place: (N, 2) centres x, y.
        size: (N, 2) height and width.
        way: (N, 2) unit vector of the reading direction.
        heat: (N,) how surely a glyph is centred there.
        kinds: (N, classes) probabilities.
        roles: (N, roles) probabilities.
    """

    place: Array
    size: Array
    way: Array
    heat: Array
    kinds: Array
    roles: Array

    def __len__(self) -> int:
        """Number of candidates."""
        return len(self.heat)

    def take(self, keep: npt.NDArray[np.intp] | npt.NDArray[np.bool_]) -> Peaks:
        """The peaks of an index or mask."""
        return Peaks(
            self.place[keep], self.size[keep], self.way[keep],
            self.heat[keep], self.kinds[keep], self.roles[keep],
        )  # fmt: skip


def softmax(logits: Array) -> Array:
    """Probabilities along the last axis."""
    shifted = np.exp(logits - logits.max(-1, keepdims=True))
    return np.asarray(shifted / shifted.sum(-1, keepdims=True), np.float32)


def sigmoid(logits: Array) -> Array:
    """Logistic function."""
    return np.asarray(1 / (1 + np.exp(-logits)), np.float32)


def find_peaks(raw: Array) -> Peaks:
    """Local maxima of the heat with what the other maps say there.

    Args:
        raw: (1, channels, h, w) output of the detector.
    """
    maps = raw[0]
    heat = sigmoid(maps[0])
    top = (heat >= cv2.dilate(heat, np.ones((3, 3), np.uint8))) & (heat > PEAK_AT)
    y, x = np.nonzero(top)
    got = maps[:, y, x].T
    kind, role, offset, size, way = (got[:, a:b] for a, b in pairwise(_ENDS[1:]))
    place = (np.stack([x, y], 1) + offset + 0.5) * CELL - 0.5
    norm = np.maximum(np.hypot(way[:, :1], way[:, 1:]), 1e-6)
    sizes = np.exp(np.clip(size, -3, 3)) * UNIT_PX
    found = Peaks(
        place.astype(np.float32), sizes.astype(np.float32), (way / norm).astype(np.float32),
        heat[y, x], softmax(kind), softmax(role),
    )  # fmt: skip
    return without_doubles(found)


def without_doubles(peaks: Peaks) -> Peaks:
    """Keep the strongest of peaks that lie on the same glyph."""
    peaks = peaks.take(np.argsort(-peaks.heat)[:MOST])
    wide = peaks.size[:, 1] / peaks.size[:, 0]
    narrow = np.clip(np.minimum(wide[:, None], wide[None]) / 0.5, 0.45, 1.0)  # such as 1 and .
    reach = APART * np.minimum(peaks.size[:, :1], peaks.size[None, :, 0]) * narrow
    near = np.hypot(*(peaks.place[:, None] - peaks.place[None]).transpose(2, 0, 1)) < reach
    kept = np.ones(len(peaks), bool)
    for i in range(1, len(peaks)):
        kept[i] = not (near[i, :i] & kept[:i]).any()
    return peaks.take(kept)

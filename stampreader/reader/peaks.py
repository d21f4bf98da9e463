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


def fuse_looks(looks: list[Peaks]) -> Peaks:
    """One set of peaks from several looks at the same place, in the same pixels.

    Peaks on one glyph become one with the mean of what the looks say; a look that missed it
    counts as no heat there. Averaging predictions over changed views of the input is a common way
    to steady a network (test-time augmentation).
    """
    whole = join(looks)
    if len(looks) < 2 or not len(whole):
        return whole
    look = np.concatenate([np.full(len(p), k) for k, p in enumerate(looks)])
    free = np.ones(len(whole), bool)
    rows: list[Peaks] = []
    for i in np.argsort(-whole.heat):
        if not free[i]:
            continue
        far = np.hypot(*(whole.place - whole.place[i]).T)
        far[~free | (far > APART * np.minimum(whole.size[:, 0], whole.size[i, 0]))] = np.inf
        members = [int(i)]
        for k in range(len(looks)):
            near = np.where((look == k) & (k != look[i]), far, np.inf)
            if np.isfinite(near).any():
                members.append(int(near.argmin()))
        free[members] = False
        rows.append(_mean(whole.take(np.array(members)), len(looks)))
    return without_doubles(join(rows))


def join(parts: list[Peaks]) -> Peaks:
    """All peaks of several sets in one."""
    names = ("place", "size", "way", "heat", "kinds", "roles")
    return Peaks(*(np.concatenate([getattr(p, n) for p in parts]) for n in names))


def _mean(peaks: Peaks, looks: int) -> Peaks:
    weight = peaks.heat / peaks.heat.sum()

    def mean(values: Array) -> Array:
        return np.asarray((values * weight[:, None]).sum(0, keepdims=True), np.float32)

    way = mean(peaks.way)
    way = way / max(float(np.hypot(*way[0])), 1e-6)
    size = np.exp(mean(np.log(peaks.size)))
    heat = np.asarray(peaks.heat.sum(keepdims=True) / looks, np.float32)
    return Peaks(mean(peaks.place), size, way, heat, mean(peaks.kinds), mean(peaks.roles))

"""A classical finder of stamped faces: groups of small marks of like size, near each other.

It is used when no trained finder is at hand. It knows nothing of letters: it looks for spots that
are darker or brighter than their surroundings and that stand in rows.
"""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from stampreader.photo import Photo
from stampreader.spine.face import Face, quad_angle
from stampreader.words import Quad

SEARCH_PX = 1600
"""Long side of the picture searched."""
SPOT_PX = (6, 110)
"""Smallest and largest spot there, long side."""
REACH = 2.8
"""Two spots belong together when their centres are nearer than this many spot sizes."""
LIKENESS = 2.8
"""… and neither is larger than this many times the other."""
LEAST_CONTRAST = 9.0
NOISE_FACTOR = 3.5
"""A spot stands out from its surroundings by so many times the middle difference of all pixels."""
FULL_CONTRAST = 60.0
"""Difference in grey levels from which more is no better."""
FEWEST_SPOTS = 3
LEAST_SHARE = 0.55
"""A face is kept if its score is at least this share of the best one's."""
MOST_SPOTS = 1200
MOST_FACES = 12
BORDER = (1.2, 0.6)
"""Space left round a group along and across its direction, in spot sizes."""

Pixels = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float64]


def find_faces(photo: Photo) -> tuple[Face, ...]:
    """Places of a photo that may carry marks, most likely first; empty when there is none."""
    scale = min(1.0, SEARCH_PX / max(photo.size))
    small = photo.grey
    if scale < 1:
        small = cv2.resize(small, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)  # type: ignore[assignment]
    faces = [
        _face(spots[group], scale)
        for spots in (_spots(small, dark=True), _spots(small, dark=False))
        for group in _groups(spots)
    ]
    return _distinct(sorted(faces, key=lambda face: -face.score))


def _spots(grey: Pixels, *, dark: bool) -> Floats:
    """Spots as rows `(x, y, size, width, height, contrast)` in pixels and grey levels."""
    calm = cv2.GaussianBlur(grey, (0, 0), 1.0).astype(np.float32)
    apart = calm - cv2.blur(calm, (41, 41))
    least = max(LEAST_CONTRAST, NOISE_FACTOR * float(np.median(np.abs(apart))))
    mask = (apart < -least if dark else apart > least).astype(np.uint8)
    _, names, stats, centres = cv2.connectedComponentsWithStats(mask, connectivity=8)
    wide, high, area = stats[1:, 2], stats[1:, 3], stats[1:, 4]
    size = np.maximum(wide, high)
    contrast = np.bincount(names.ravel(), np.abs(apart).ravel())[1:] / area
    fill = area / (wide * high)
    good = (size >= SPOT_PX[0]) & (size <= SPOT_PX[1]) & (fill > 0.12) & (area >= 8)
    rows = np.column_stack([centres[1:], size, wide, high, contrast])[good].astype(float)
    return rows[np.argsort(-rows[:, 2])][:MOST_SPOTS]


def _groups(spots: Floats) -> list[npt.NDArray[np.intp]]:
    """Indices of spots that hang together, by size and distance."""
    if len(spots) < FEWEST_SPOTS:
        return []
    size = spots[:, 2]
    larger = np.maximum(size[:, None], size[None, :])
    ratio = larger / np.minimum(size[:, None], size[None, :])
    apart = np.hypot(spots[:, 0, None] - spots[None, :, 0], spots[:, 1, None] - spots[None, :, 1])
    names = _connected((apart < REACH * larger) & (ratio < LIKENESS))
    groups = [np.flatnonzero(names == name) for name in np.unique(names)]
    return [group for group in groups if len(group) >= FEWEST_SPOTS]


def _connected(linked: npt.NDArray[np.bool_]) -> npt.NDArray[np.intp]:
    """Name each row by the smallest row it hangs together with."""
    names = np.arange(len(linked))
    while True:
        lower = np.where(linked, names[None, :], len(linked)).min(axis=1)
        lower = np.minimum(names, lower)
        lower = lower[lower]
        if (lower == names).all():
            return names
        names = lower


def _face(spots: Floats, scale: float) -> Face:
    """The face round a group of spots, in pixels of the photo."""
    half = spots[:, 3:5] / 2
    corners = np.concatenate(
        [spots[:, :2] + half * sign for sign in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    )
    centre, (width, height), angle = cv2.minAreaRect(corners.astype(np.float32))
    if height > width:
        width, height, angle = height, width, angle - 90.0
    size = float(np.median(spots[:, 2]))
    along, across = (2 * border * size for border in BORDER)
    box = cv2.boxPoints((centre, (width + along, height + across), angle))
    quad = _from_top_left(np.asarray(box, float) / scale)
    evenness = 1.0 / (1.0 + float(np.std(spots[:, 2])) / size)
    enough = 1.0 - 1.0 / len(spots)
    contrast = min(float(np.median(spots[:, 5])) / FULL_CONTRAST, 1.0)
    return Face(quad, quad_angle(quad), size / scale, round(evenness * enough * contrast, 3))


def _from_top_left(box: Floats) -> Quad:
    """Corners clockwise along the long side, so that the text runs from left to right."""
    points = [(float(x), float(y)) for x, y in box]
    along = [np.subtract(points[(i + 1) % 4], points[i]) for i in range(4)]
    longest = max(range(2), key=lambda i: float(np.hypot(*along[i])))
    start = longest if along[longest][0] >= 0 else longest + 2
    a, b, c, d = (points[(start + i) % 4] for i in range(4))
    return a, b, c, d


def _distinct(faces: list[Face]) -> tuple[Face, ...]:
    """Leave out faces whose centre lies inside a better one, and those far below the best."""
    kept: list[Face] = []
    for face in faces:
        if face.score < LEAST_SHARE * faces[0].score:
            break
        centre = np.mean(face.quad, axis=0)
        if not any(_inside(centre, better.quad) for better in kept):
            kept.append(face)
    return tuple(kept[:MOST_FACES])


def _inside(point: npt.NDArray[np.floating], quad: Quad) -> bool:
    outline = np.asarray(quad, np.float32)
    return cv2.pointPolygonTest(outline, (float(point[0]), float(point[1])), False) >= 0

"""Where writing stands in a photo: the finder network on a small copy, and its spots grouped."""

from __future__ import annotations

import math

import cv2
import numpy as np
import numpy.typing as npt

from stampreader.photo import Photo
from stampreader.reader.engine import Engine
from stampreader.reader.peaks import sigmoid
from stampreader.reader.prepare import prepare
from stampreader.spine import Face, face_along

LONG_PX = 960
"""Long side of the copy that is searched."""
CLOSER_PX = 1280
"""The same where that search led to little."""
CELL = 8
"""Pixels of the copy a cell of the finder's maps stands for."""
SPOT_AT = 0.35
"""Least heat of a cell that counts as written on."""
CORE_AT = 0.6
"""A place holds at least one cell as hot as this."""
REACH = 2.6
"""Spots of one stamp lie nearer than this many heights."""
LIKENESS = 2.1
"""And differ in height by no more than this factor."""
LIKE_WAY = 0.0
"""And the cosine of twice the angle between them is no less: what runs across is another line."""
BORDER = (4.0, 1.5)
"""Space round the spots of a place, along and across, in heights: a figure may be faint."""
MOST = 10
"""Places looked at in one photo."""
BESIDE = 0.15
"""Places with less than this part of the best one's score are left out."""
LEAST = 3
"""Cells of a place."""
DIRECTED = 0.85
"""Least firmness of its direction, 0 to about 1: on grain and gravel the network wavers."""
WRITTEN = 0.92
"""From this score on a place counts with any direction: lines across lines make it waver too."""

Array = npt.NDArray[np.float32]


def find_places(photo: Photo, finder: Engine, long_px: int = LONG_PX) -> tuple[Face, ...]:
    """Faces in the photo, the most written ones first; not directed.

    Args:
        photo: upright photo.
        finder: the finder network.
        long_px: long side of the copy that is searched.
    """
    grey = photo.grey
    scale = min(1.0, long_px / max(grey.shape))
    size = [max(16, round(side * scale)) for side in grey.shape[::-1]]
    small = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
    padded = cv2.copyMakeBorder(
        small, 0, -small.shape[0] % 16, 0, -small.shape[1] % 16, cv2.BORDER_REPLICATE
    )
    maps = finder.run(prepare(np.asarray(padded, np.uint8)))[0]
    sides = np.array([size[0] / grey.shape[1], size[1] / grey.shape[0]], np.float32)
    return group_spots(maps, sides)


def group_spots(maps: Array, scale: Array) -> tuple[Face, ...]:
    """Faces from the finder's maps.

    Args:
        maps: (4, h, w) raw: heat, log of height over `CELL`, twice the direction as cos and sin.
        scale: (2,) size of the copy over that of the photo, along x and y.
    """
    heat = sigmoid(maps[0])
    y, x = np.nonzero(heat > SPOT_AT)
    if not len(x):
        return ()
    tall = np.exp(np.clip(maps[1, y, x], -2, 3)) * CELL
    place = (np.stack([x, y], 1) + 0.5) * CELL
    double = maps[2:4, y, x].T
    group = _joined(place, tall, double)
    faces = []
    for g in np.unique(group):
        members = np.flatnonzero(group == g)
        hot = heat[y[members], x[members]]
        if len(members) < LEAST or hot.max() < CORE_AT:
            continue
        along = (double[members] * hot[:, None]).sum(0)
        face = _face(place[members], tall[members], math.atan2(along[1], along[0]) / 2, hot, scale)
        if face.score >= WRITTEN or np.hypot(*double[members].T).mean() >= DIRECTED:
            faces.append(face)
    faces.sort(key=lambda f: -f.score)
    return tuple(face for face in faces[:MOST] if face.score >= BESIDE * faces[0].score)


def _joined(place: Array, tall: Array, double: Array) -> npt.NDArray[np.intp]:
    """The group number of each spot: near ones of like height and direction belong together."""
    count = len(place)
    group = np.arange(count)
    reach = REACH * np.minimum(tall[:, None], tall[None])
    near = np.hypot(*(place[:, None] - place[None]).transpose(2, 0, 1)) < np.maximum(
        reach, 1.9 * CELL
    )
    near &= np.abs(np.log(tall[:, None] / tall[None])) < math.log(LIKENESS)
    way = double / np.maximum(np.hypot(*double.T), 1e-6)[:, None]
    near &= way @ way.T > LIKE_WAY
    for _ in range(count):
        lowest = np.where(near, group[None], count).min(1)
        if (lowest == group).all():
            break
        group = lowest
    return group


def _face(place: Array, tall: Array, turn: float, heat: Array, scale: Array) -> Face:
    height = float(np.exp(np.average(np.log(tall), weights=heat)))
    axes = np.array([(math.cos(turn), math.sin(turn)), (-math.sin(turn), math.cos(turn))])
    along = place @ axes.T
    border = np.array(BORDER) * height + CELL / 2
    low, high = along.min(0) - border, along.max(0) + border
    centre = ((low + high) / 2) @ axes / scale
    length, across = (high - low) / float(scale.mean())
    return Face(
        quad=face_along(
            (float(centre[0]), float(centre[1])), float(length), float(across), math.degrees(turn)
        ),
        angle_deg=math.degrees(turn) % 360.0,
        glyph_px=height / float(scale.mean()),
        score=float(1 - np.exp(-((heat - SPOT_AT) ** 2).sum())),
    )

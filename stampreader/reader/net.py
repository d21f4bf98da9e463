"""The trained glyph detector: any direction, many sizes, coarse to fine."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from functools import cached_property
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from stampreader.photo import Photo
from stampreader.reader.alphabet import CLASSES
from stampreader.reader.engine import Engine, load, read_card
from stampreader.reader.peaks import Peaks, find_peaks, fuse_looks, join, without_doubles
from stampreader.reader.prepare import prepare
from stampreader.reader.search import find_places
from stampreader.spine import Face, face_along, quad_size, straighten
from stampreader.spine.straighten import to_photo
from stampreader.words import Glyph, Quad

Pixels = npt.NDArray[np.uint8]

CAP_PX = 30.0
"""Height of a capital the detector is shown at."""
STEP = 32
"""Sides of its input are multiples of this."""
MOST_PIXELS = 1_400_000
"""Largest input; a larger place is shown smaller."""
AGAIN = (0.72, 1.4)
"""A place whose glyphs are not of this share of `CAP_PX` is looked at a second time."""
LOOKS = ((1.3, True), (0.8, False))
"""Further looks at a place with writing: share of the first one's scale, turned by 180 degrees."""
WRITTEN = 3
"""Glyphs from which a place counts as written on."""
FAINT = 0.22
"""Least confidence of a glyph that is reported."""
SMALL_FAINT = {".": 0.45, "-": 0.45, ":": 0.45}
"""The same for signs so small that a speck of metal looks like them."""
ALSO = 0.02
"""Least probability of an alternative that is kept."""


class NetReader:
    """Reader 1: every glyph with its class, place, direction and the figure it belongs to."""

    name = "net"

    def __init__(self, detector: Engine | None = None, finder: Engine | None = None) -> None:
        """Load the weights beside the card, or take engines as given.

        Raises:
            ReaderError: weights missing or altered.
        """
        self._card = read_card()
        self._detector = detector or load("detector")
        self._finder = finder or load("finder")

    @cached_property
    def version(self) -> str:
        """Beginning of the weights' hash."""
        return str(self._card["parts"]["detector"]["sha256"])[:12]

    @property
    def caps(self) -> Mapping[str, Any]:
        """Thresholds that were calibrated with these weights."""
        caps: Mapping[str, Any] = self._card["caps"]
        return caps

    def find_faces(self, photo: Photo) -> tuple[Face, ...]:
        """Where writing stands in a photo, found on a small copy of it."""
        return find_places(photo, self._finder)

    def read_glyphs(self, photo: Photo, faces: tuple[Face, ...]) -> tuple[Glyph, ...]:
        """The glyphs on the faces: a first look at each, more at those that carry writing."""
        looks = [self._look(photo, face) for face in faces]
        seen = [peaks for peaks in looks if len(peaks)]
        return _glyphs(without_doubles(join(seen)), self.name) if seen else ()

    def _look(self, photo: Photo, face: Face) -> Peaks:
        peaks = self._see(photo, face.quad, CAP_PX / max(face.glyph_px, 1.0))
        nearer = _closer(peaks, face)
        if nearer is not None:
            again = self._see(photo, nearer.quad, CAP_PX / nearer.glyph_px)
            if again.heat.sum() > 0.8 * peaks.heat.sum():
                peaks, face = again, nearer
        if not _is_written(peaks):
            return peaks
        looks = [peaks]
        for share, turned in LOOKS:
            quad = (*face.quad[2:], *face.quad[:2]) if turned else face.quad
            looks.append(self._see(photo, quad, share * CAP_PX / max(face.glyph_px, 1.0)))
        return fuse_looks(looks)

    def _see(self, photo: Photo, quad: Quad, scale: float) -> Peaks:
        """Peaks in the photo's pixels of one place shown at a scale."""
        length, height = quad_size(quad)
        scale = min(scale, math.sqrt(MOST_PIXELS / max(length * height, 1.0)), 4.0)
        tall = max(round(height * scale), 8)
        strip = straighten(photo, quad, tall)
        padded = cv2.copyMakeBorder(
            strip, 0, -strip.shape[0] % STEP, 0, -strip.shape[1] % STEP, cv2.BORDER_REPLICATE
        )
        peaks = find_peaks(self._detector.run(prepare(np.asarray(padded, np.uint8))))
        return _moved(peaks, to_photo(quad, tall))


def _moved(peaks: Peaks, turn: npt.NDArray[np.float64]) -> Peaks:
    """Peaks of a strip, taken to the photo by its matrix."""
    if not len(peaks):
        return peaks
    tip = peaks.place + peaks.way
    place, ahead = (
        cv2.perspectiveTransform(p[None].astype(np.float64) + 0.5, turn)[0] - 0.5
        for p in (peaks.place, tip)
    )
    way = ahead - place
    grow = np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-9)
    return replace(
        peaks,
        place=place.astype(np.float32),
        way=(way / grow[:, None]).astype(np.float32),
        size=(peaks.size * grow[:, None]).astype(np.float32),
    )


def _closer(peaks: Peaks, face: Face) -> Face | None:
    """A better framed face round the glyphs seen, `None` if the first look was good."""
    firm = peaks.take(peaks.heat > 0.3)
    if len(firm) < 2:
        return None
    tall = float(np.median(firm.size[:, 0]))
    if AGAIN[0] < tall / face.glyph_px < AGAIN[1]:
        return None
    turn = np.radians(face.angle_deg)
    axes = np.array([(np.cos(turn), np.sin(turn)), (-np.sin(turn), np.cos(turn))])
    along = firm.place @ axes.T
    low, high = along.min(0) - 2.2 * tall, along.max(0) + 2.2 * tall
    x, y = ((low + high) / 2) @ axes
    length, height = high - low
    quad = face_along((float(x), float(y)), float(length), float(height), face.angle_deg)
    return replace(face, quad=quad, glyph_px=tall)


def _is_written(peaks: Peaks) -> bool:
    """Whether a first look found enough to look closer."""
    return int((peaks.heat > 0.3).sum()) >= WRITTEN


def _glyphs(peaks: Peaks, reader: str) -> tuple[Glyph, ...]:
    order = np.argsort(-peaks.kinds, axis=1)
    glyphs = []
    for i in range(len(peaks)):
        kinds, heat = peaks.kinds[i], float(peaks.heat[i])
        best = int(order[i, 0])
        confidence = float(kinds[best]) * min(1.0, math.sqrt(heat) * 1.1)
        if confidence < SMALL_FAINT.get(CLASSES[best], FAINT):
            continue
        others = tuple((CLASSES[j], float(kinds[j])) for j in order[i, 1:6] if kinds[j] >= ALSO)
        tall = float(peaks.size[i, 0])
        way = peaks.way[i]
        none, closed, cross, opened, strength = (float(p) for p in peaks.roles[i])
        glyphs.append(
            Glyph(
                char=CLASSES[best],
                x=float(peaks.place[i, 0]),
                y=float(peaks.place[i, 1]),
                height_px=tall,
                width_px=float(peaks.size[i, 1]),
                angle_deg=math.degrees(math.atan2(float(way[1]), float(way[0]))) % 360.0,
                confidence=confidence,
                alternatives=others,
                role=(none, closed, cross, opened, strength),
                reader=reader,
            )
        )
    return tuple(glyphs)

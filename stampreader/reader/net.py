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
from stampreader.reader.search import CLOSER_PX, LONG_PX, find_places
from stampreader.spine import Face, face_along, quad_size, straighten
from stampreader.spine.straighten import to_photo
from stampreader.words import Glyph, Quad

Pixels = npt.NDArray[np.uint8]

CAP_PX = 26.0
"""Height of a capital the detector is shown at."""
STEP = 32
"""Sides of its input are multiples of this."""
MOST_PIXELS = 500_000
"""Largest input; a larger place is shown smaller."""
GLANCE = 0.62
"""Share of that scale at which a place is first looked at, to find its written part."""
LIKE_FOUND = (0.5, 2.0)
"""A place whose glyphs are not of this share of the height expected gets a second glance."""
LOOKS = ((1.0, False), (1.4, True))
"""Looks at the written part: share of the scale, turned by 180 degrees."""
FIRM = 0.3
"""Heat of a glyph that tells where the written part is."""
WRITTEN = 3
"""So many of them make a place written."""
ALIGNED = 0.5
"""Least cosine of twice the angle between a glyph and the place it is read along."""
BORDER = (2.2, 1.4)
"""Space round the written part, along and across, in heights: its ends may be faint."""
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

    def find_faces_closer(self, photo: Photo) -> tuple[Face, ...]:
        """The same on a larger copy; nothing where there is no larger one to look at."""
        if max(photo.size) <= LONG_PX:
            return ()
        return find_places(photo, self._finder, CLOSER_PX)

    def read_glyphs(self, photo: Photo, faces: tuple[Face, ...]) -> tuple[Glyph, ...]:
        """The glyphs on the faces: a first look at each, more at those that carry writing."""
        looks = [peaks for face in faces for peaks in self._look(photo, face)]
        return _glyphs(without_doubles(join(looks)), self.name) if looks else ()

    def _look(self, photo: Photo, face: Face) -> list[Peaks]:
        """Glances along a place and across it, and looks at the written part each shows.

        Figures are often stamped across the line of marks beside them. Writing that is framed
        already gets one look: there are other pictures of it.
        """
        if face.framed:
            return [self._see(photo, face.quad, CAP_PX / max(face.glyph_px, 1.0))]
        a, b, c, d = face.quad
        across = replace(face, quad=(b, c, d, a), angle_deg=(face.angle_deg + 90.0) % 360.0)
        return [peaks for way in (face, across) for peaks in self._look_along(photo, way)]

    def _look_along(self, photo: Photo, face: Face) -> list[Peaks]:
        """Looks at what is written along a place; none where a glance sees too little."""
        peaks = self._see(photo, face.quad, GLANCE * CAP_PX / max(face.glyph_px, 1.0))
        framed = _framed(peaks, face)
        if framed is None:
            return []
        if not LIKE_FOUND[0] < framed.glyph_px / face.glyph_px < LIKE_FOUND[1]:
            again = self._see(photo, framed.quad, GLANCE * CAP_PX / framed.glyph_px)
            framed = _framed(again, framed) or framed
        looks = []
        for share, turned in LOOKS:
            quad = (*framed.quad[2:], *framed.quad[:2]) if turned else framed.quad
            looks.append(self._see(photo, quad, share * CAP_PX / framed.glyph_px))
        return [fuse_looks(looks)]

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


def _framed(peaks: Peaks, face: Face) -> Face | None:
    """The part of a face where a glance saw writing; `None` if it saw too little."""
    ways = (peaks.way[:, 0] + 1j * peaks.way[:, 1]) ** 2  # either way up
    ways = ways * np.exp(-2j * math.radians(face.angle_deg))
    along = (peaks.heat > FIRM) & (ways.real > ALIGNED)
    firm = peaks.take(along)
    if len(firm) < WRITTEN:
        return None
    tall = float(np.median(firm.size[:, 0]))
    turn = math.radians(face.angle_deg) + float(np.angle((ways[along] * firm.heat).sum())) / 2
    axes = np.array([(math.cos(turn), math.sin(turn)), (-math.sin(turn), math.cos(turn))])
    spots = firm.place @ axes.T
    border = np.array(BORDER) * tall
    low, high = spots.min(0) - border, spots.max(0) + border
    x, y = ((low + high) / 2) @ axes
    length, height = high - low
    angle = math.degrees(turn)
    quad = face_along((float(x), float(y)), float(length), float(height), angle)
    return replace(face, quad=quad, glyph_px=tall, angle_deg=angle % 360.0)


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

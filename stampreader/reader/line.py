"""Reader 2: a straightened line read as a sequence, without knowing what reader 1 saw.

Other input (a strip along the line's curve), another network, other training renders than the
glyph detector, so that the two seldom err alike.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
import numpy.typing as npt

from stampreader.photo import Photo
from stampreader.reader.alphabet import CLASSES
from stampreader.reader.engine import Engine, load, read_card
from stampreader.reader.peaks import softmax
from stampreader.reader.prepare import prepare
from stampreader.spine import Face
from stampreader.words import Glyph

Array = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.uint8]

TALL, CAP_PX = 48, 28.0
"""Height of a strip, and of a capital on it, in pixels."""
STRIDE = 4
"""Pixels of the strip a step of the network stands for."""
LONGEST = 2400
"""Longest strip, pixels."""
ENDS = 1.1
"""Space before the first and after the last character, in heights."""
FAINT = 0.08
"""Least probability of a character that is reported."""


@dataclass(frozen=True)
class Course:
    """The curve a line of text follows: origin, direction, and the rise of its middle line.

    Attributes:
        origin: (2,) a point of the photo.
        turn: reading direction in radians.
        rise: coefficients of a polynomial, highest power first: distance across by distance along.
        first, last: where the line begins and ends along the direction.
        scale: photo pixels a strip pixel.
    """

    origin: Array
    turn: float
    rise: Array
    first: float
    last: float
    scale: float

    def points(self, along: Array, across: Array) -> Array:
        """(…, 2) photo points of places along and across the curve, photo pixels."""
        slope = np.polyval(np.polyder(self.rise), along) if len(self.rise) > 1 else 0 * along
        lean = 1 / np.sqrt(1 + slope**2)
        u = along - across * slope * lean
        v = np.polyval(self.rise, along) + across * lean
        cos, sin = math.cos(self.turn), math.sin(self.turn)
        return np.stack([u * cos - v * sin, u * sin + v * cos], -1) + self.origin

    def tangent_deg(self, along: float) -> float:
        """Reading direction at a place along the curve."""
        slope = float(np.polyval(np.polyder(self.rise), along)) if len(self.rise) > 1 else 0.0
        return math.degrees(self.turn + math.atan(slope)) % 360.0

    def reversed(self) -> Course:
        """The same line read the other way round."""
        signs = np.array([(-1.0) ** (k + 1) for k in range(len(self.rise))][::-1])
        return Course(
            self.origin, self.turn + math.pi, self.rise * signs, -self.last, -self.first, self.scale
        )


def course_of(face: Face) -> Course:
    """The curve along a face's characters, or its middle line where they are not known."""
    corners = np.asarray(face.quad, float)
    turn = math.radians(face.angle_deg)
    axes = np.array([(math.cos(turn), math.sin(turn)), (-math.sin(turn), math.cos(turn))])
    origin = corners.mean(0)
    known = np.asarray(face.baseline, float).reshape(-1, 2)
    placed = ((known if len(known) else origin[None]) - origin) @ axes.T
    spread = float(np.ptp(placed[:, 0])) / max(face.glyph_px, 1.0)
    power = 0 if len(placed) < 3 or spread < 2 else 1 if len(placed) < 6 or spread < 5 else 2
    rise = np.polyfit(placed[:, 0], placed[:, 1], power)
    left = placed[np.abs(placed[:, 1] - np.polyval(rise, placed[:, 0])) < 0.5 * face.glyph_px]
    if len(left) > power + 2:
        rise = np.polyfit(left[:, 0], left[:, 1], power)
    ends = (corners - origin) @ axes.T
    border = ENDS * face.glyph_px
    first = placed[:, 0].min() - border if len(known) else float(ends[:, 0].min())
    last = placed[:, 0].max() + border if len(known) else float(ends[:, 0].max())
    return Course(origin, turn, rise, float(first), float(last), face.glyph_px / CAP_PX)


def cut_strip(grey: Pixels, course: Course) -> Pixels:
    """The line laid out level: (TALL, length) uint8, capitals `CAP_PX` high."""
    length = min(max(round((course.last - course.first) / course.scale), TALL), LONGEST)
    along = course.first + (np.arange(length) + 0.5) * course.scale
    across = (np.arange(TALL) - (TALL - 1) / 2) * course.scale
    at = course.points(*np.meshgrid(along, across))
    low = np.maximum(np.floor(at.reshape(-1, 2).min(0)) - 3, 0).astype(int)
    high = np.minimum(np.ceil(at.reshape(-1, 2).max(0)) + 4, grey.shape[::-1]).astype(int)
    if (high - low < 2).any():
        return np.full((TALL, length), 127, np.uint8)
    piece = grey[low[1] : high[1], low[0] : high[0]]
    shrink = 1.0
    if course.scale > 1.4:
        shrink = 1 / course.scale
        size = [max(2, round(side * shrink)) for side in piece.shape[::-1]]
        piece = np.asarray(cv2.resize(piece, size, interpolation=cv2.INTER_AREA), np.uint8)
    where = ((at - low + 0.5) * shrink - 0.5).astype(np.float32)
    strip = cv2.remap(
        piece, where[..., 0], where[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(strip, np.uint8)


@dataclass(frozen=True)
class Letter:
    """One character of a decoded strip: class, step in the sequence, probabilities, width."""

    kind: int
    step: float
    chances: npt.NDArray[np.float32]
    steps: int


def decode(raw: npt.NDArray[np.float32]) -> list[Letter]:
    """Best path through the steps of a sequence (connectionist temporal classification).

    Args:
        raw: (classes + 1, steps) scores, the blank first.

    Returns:
        Runs of one class, each at its strongest step; the blank's share is left in.
    """
    chances = softmax(raw.T)
    best = chances.argmax(1)
    letters = []
    start = 0
    for step in range(1, len(best) + 1):
        if step == len(best) or best[step] != best[start]:
            if best[start] > 0:
                peak = start + int(chances[start:step, best[start]].argmax())
                letters.append(
                    Letter(int(best[start]) - 1, float(peak), chances[peak], step - start)
                )
            start = step
    return letters


class LineReader:
    """Reads each line found as one sequence, both ways round where its direction is open."""

    name = "line"

    def __init__(self, engine: Engine | None = None) -> None:
        """Load the weights beside the card, or take an engine as given.

        Raises:
            ReaderError: weights missing or altered.
        """
        self._engine = engine or load("line")

    @cached_property
    def version(self) -> str:
        """Beginning of the weights' hash."""
        return str(read_card()["parts"]["line"]["sha256"])[:12]

    def read_glyphs(self, photo: Photo, faces: tuple[Face, ...]) -> tuple[Glyph, ...]:
        """Characters and pictograms of each line, at their place on its curve."""
        glyphs: list[Glyph] = []
        for face in faces:
            course = course_of(face)
            tries = [course] if face.directed else [course, course.reversed()]
            read = [(c, self._read(photo.grey, c)) for c in tries]
            best, letters = max(read, key=lambda item: _likelihood(item[1]))
            glyphs += [_glyph(letter, best, self.name) for letter in letters]
        return tuple(g for g in glyphs if g.confidence >= FAINT)

    def _read(self, grey: Pixels, course: Course) -> list[Letter]:
        strip = cut_strip(grey, course)
        padded = cv2.copyMakeBorder(strip, 0, 0, 0, -strip.shape[1] % 16, cv2.BORDER_REPLICATE)
        return decode(self._engine.run(prepare(np.asarray(padded, np.uint8)))[0])


def _likelihood(letters: list[Letter]) -> float:
    """How well a strip reads one way: sum of what its characters are above a guess."""
    return sum(float(letter.chances[letter.kind + 1]) - 0.5 for letter in letters)


def _glyph(letter: Letter, course: Course, reader: str) -> Glyph:
    along = course.first + (letter.step + 0.5) * STRIDE * course.scale
    x, y = course.points(np.array(along), np.array(0.0))
    order = np.argsort(-letter.chances)
    others = tuple(
        (CLASSES[k - 1], float(letter.chances[k]))
        for k in order[:6]
        if k not in (0, letter.kind + 1) and letter.chances[k] >= 0.02
    )
    return Glyph(
        char=CLASSES[letter.kind],
        x=float(x),
        y=float(y),
        height_px=CAP_PX * course.scale,
        width_px=max(letter.steps, 3) * STRIDE * course.scale,
        angle_deg=course.tangent_deg(along),
        confidence=float(letter.chances[letter.kind + 1]),
        alternatives=others,
        reader=reader,
    )

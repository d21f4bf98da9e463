"""The part of the first shot that is worked on: the spine laid out level, at a chosen scale."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
import numpy.typing as npt

from stampreader.spine import Face, face_along, quad_size
from stampreader.words import Quad

Pixels = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float32]
Array = npt.NDArray[np.float64]
Matrix = npt.NDArray[np.float64]

GLYPH_PX = 30.0
"""Height a character is brought to; more shows no more, and costs time."""
MOST_PIXELS = 900_000
"""Largest frame."""
MOST_GROWTH = 1.25
"""A small picture is enlarged this far at most."""
BORDER = 0.9
"""Space left round the faces, in heights of a character."""
ALIGNED_DEG = 15.0
"""Faces lie along one spine up to this angle."""
BAND, ENDS = 0.4, 0.1
"""Shares of the most votes across and along the spine that belong to it."""
FULL, LEAST_WEIGHT = 0.6, 0.02
"""A place with so much of the best place's votes counts fully; none counts less than the second."""
MAP_PX = 400
"""Long side of the map on which that is counted."""


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """A level rectangle over the spine.

    Attributes:
        quad: its corners in the reference shot.
        size: (width, height) in pixels of the frame.
        glyph_px: estimated height of a character, in pixels of the frame.
        weight: `(height, width) float32`, 0 to 1: how much speaks for the spine being there.
    """

    quad: Quad
    size: tuple[int, int]
    glyph_px: float
    weight: Floats

    @property
    def to_photo(self) -> Matrix:
        """The (3, 3) matrix that takes points of the frame to the reference shot."""
        width, height = self.size
        corners = np.array([(0, 0), (width, 0), (width, height), (0, height)], np.float32)
        # centres of pixels, not their corners, go onto each other
        half = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1.0]])
        turn = cv2.getPerspectiveTransform(corners, np.asarray(self.quad, np.float32))
        return np.asarray(np.linalg.inv(half) @ turn @ half, np.float64)

    def cut(self, picture: Pixels, to_shot: Matrix) -> Pixels:
        """A shot brought to the frame: `(height, width)` or with channels, uint8.

        Args:
            to_shot: takes points of the reference shot to this shot.
        """
        matrix = to_shot @ self.to_photo
        shrink = _shrink(matrix, self.size)
        if shrink < 0.75:
            picture, matrix = _smaller(picture, matrix, self.size, shrink)
        flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
        cut = cv2.warpPerspective(
            picture, matrix, self.size, flags=flags, borderMode=cv2.BORDER_REPLICATE
        )
        return np.asarray(cut, np.uint8)


def frame_over(faces: Sequence[Face], grey: Pixels) -> Frame:
    """The frame over the faces found on all shots, given in pixels of the reference shot.

    What several shots show counts more than what looks like writing on one. The direction is that
    of the long edges there. Without a face, the frame is the whole picture.

    Args:
        faces: of all shots.
        grey: the reference shot.
    """
    size = (grey.shape[1], grey.shape[0])
    if not faces:
        return whole_frame(size)
    shrink = min(1.0, MAP_PX / max(size))
    votes = _votes(faces, [max(1, round(side * shrink)) for side in size], shrink)
    turn = _edge_angle(grey, votes, _face_angle(faces))
    low, high = _extent(votes, turn)
    along = [f for f in faces if _between(f.angle_deg, turn) <= ALIGNED_DEG] or list(faces)
    glyph_px = float(np.average([f.glyph_px for f in along], weights=[f.score for f in along]))
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    x, y = (low + high) / 2 @ np.array([(cos, sin), (-sin, cos)])
    length, tall = (high - low) / shrink + 2 * BORDER * glyph_px
    quad = face_along((x / shrink, y / shrink), float(length), float(tall), turn)
    return _weighted(_sized(_clipped(quad, size), glyph_px), votes, shrink)


def _votes(faces: Sequence[Face], size: Sequence[int], shrink: float) -> Floats:
    """How much speaks for writing at each place of a small map."""
    votes = np.zeros((size[1], size[0]), np.float32)
    for face in faces:
        vote = np.zeros(votes.shape, np.float32)
        corners = np.round(np.asarray(face.quad) * shrink).astype(np.int32)
        cv2.fillConvexPoly(vote, corners, float(face.score))
        votes += vote
    return votes


def _face_angle(faces: Sequence[Face]) -> float:
    """Direction of the faces in degrees, either way round: the mean of doubled angles."""
    doubled = sum(
        f.score * quad_size(f.quad)[0] * np.exp(2j * math.radians(f.angle_deg)) for f in faces
    )
    return math.degrees(float(np.angle(doubled)) / 2)


def _edge_angle(grey: Pixels, votes: Floats, about_deg: float) -> float:
    """Direction of the long edges near the places voted for, within `ALIGNED_DEG` of a guess."""
    small = cv2.resize(grey, votes.shape[::-1], interpolation=cv2.INTER_AREA)
    calm = cv2.GaussianBlur(np.log(small.astype(np.float32) + 12.0), (0, 0), 1.0)
    dx, dy = cv2.Sobel(calm, cv2.CV_32F, 1, 0), cv2.Sobel(calm, cv2.CV_32F, 0, 1)
    near = cv2.dilate(votes, np.ones((9, 9), np.uint8))
    tangent = np.degrees(np.arctan2(dx, -dy))
    off = (tangent - about_deg + 90.0) % 180.0 - 90.0
    weight = np.where(np.abs(off) <= ALIGNED_DEG, np.hypot(dx, dy) * near, 0.0)
    total = float(weight.sum())
    return about_deg + (float((weight * off).sum()) / total if total > 0 else 0.0)


def _extent(votes: Floats, turn_deg: float) -> tuple[Array, Array]:
    """Corners of the band voted for, in axes along and across a direction, map pixels."""
    turn = math.radians(turn_deg)
    axes = np.array([(math.cos(turn), math.sin(turn)), (-math.sin(turn), math.cos(turn))])
    y, x = np.nonzero(votes)
    u, v = axes @ np.stack([x, y]).astype(float)
    held = votes[y, x]
    first, last = _band(v, held, BAND, joined=True)
    inside = (v >= first) & (v <= last)
    start, end = _band(u[inside], held[inside], ENDS, joined=False)
    return np.array([start, first]), np.array([end, last])


def _band(place: Array, held: Floats, share: float, *, joined: bool) -> tuple[float, float]:
    """First and last place that holds a share of the most; with `joined` around the most only."""
    low = math.floor(float(place.min()))
    counts = np.bincount(np.round(place - low).astype(int), held)
    profile = np.convolve(counts, np.ones(5) / 5, "same")
    enough = profile >= share * profile.max()
    spots = np.flatnonzero(enough)
    if joined:
        gaps = np.concatenate([[-1], np.flatnonzero(~enough), [len(profile)]])
        place_in = int(np.searchsorted(gaps, profile.argmax()))
        return low + float(gaps[place_in - 1] + 1), low + float(gaps[place_in] - 1)
    return low + float(spots[0]), low + float(spots[-1])


def frame_round(quad: Quad, glyph_px: float) -> Frame:
    """The frame over a quadrilateral of the reference shot, characters `glyph_px` high there."""
    return _sized(quad, glyph_px)


def whole_frame(size: tuple[int, int]) -> Frame:
    """The whole picture as a frame; characters are taken to be a thirtieth of its width."""
    width, height = (float(side) for side in size)
    quad: Quad = ((0.0, 0.0), (width, 0.0), (width, height), (0.0, height))
    return _sized(quad, max(size) / 30)


def _sized(quad: Quad, glyph_px: float) -> Frame:
    length, height = quad_size(quad)
    area = max(length * height, 1.0)
    scale = min(GLYPH_PX / glyph_px, math.sqrt(MOST_PIXELS / area), MOST_GROWTH)
    size = (max(32, round(length * scale)), max(32, round(height * scale)))
    return Frame(quad, size, glyph_px * scale, np.ones(size[::-1], np.float32))


def _weighted(frame: Frame, votes: Floats, shrink: float) -> Frame:
    """The frame with the votes, brought to it, as its weight."""
    half = (shrink - 1) / 2
    to_votes = np.array([[shrink, 0, half], [0, shrink, half], [0, 0, 1]]) @ frame.to_photo
    calm = cv2.GaussianBlur(votes / max(float(votes.max()), 1e-9), (0, 0), 2.0)
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    weight = cv2.warpPerspective(calm, to_votes, frame.size, flags=flags)
    return replace(frame, weight=np.clip(weight / FULL, LEAST_WEIGHT, 1).astype(np.float32))


def _between(a: float, b: float) -> float:
    """Angle between two directions that may each be turned round, 0 to 90."""
    return abs((a - b + 90.0) % 180.0 - 90.0)


def _clipped(quad: Quad, size: tuple[int, int]) -> Quad:
    """The rectangle cut off where it runs far out of the picture along its length."""
    corners = np.asarray(quad)
    inside = np.clip(corners, 0, np.asarray(size, float))
    along = corners[1] - corners[0]
    length = float(np.linalg.norm(along)) or 1.0
    along = along / length
    spots = (np.linspace(0, 1, 65)[:, None] * length * along) + (corners[0] + corners[3]) / 2
    seen = ((spots >= -1) & (spots <= np.asarray(size) + 1)).all(1)
    if not seen.any() or (inside == corners).all():
        return quad
    first, last = np.flatnonzero(seen)[[0, -1]] / 64 * length
    a, d = (corners[k] + along * first for k in (0, 3))
    b, c = (corners[k] + along * last for k in (0, 3))
    p, q, r, s = ((float(x), float(y)) for x, y in (a, b, c, d))
    return p, q, r, s


def _shrink(matrix: Matrix, size: tuple[int, int]) -> float:
    """Frame pixels to a pixel of the shot."""
    width, height = size
    corners = np.array([[(0, 0), (width, 0), (width, height), (0, height)]], np.float64)
    moved = np.asarray(cv2.perspectiveTransform(corners, matrix))[0]
    area = float(abs(cv2.contourArea(moved.astype(np.float32))))
    return math.sqrt(width * height / max(area, 1.0))


def _smaller(
    picture: Pixels, matrix: Matrix, size: tuple[int, int], shrink: float
) -> tuple[Pixels, Matrix]:
    """The needed part of a picture made smaller by area first, so that nothing flickers."""
    width, height = size
    corners = np.array([[(0, 0), (width, 0), (width, height), (0, height)]], np.float64)
    moved = np.asarray(cv2.perspectiveTransform(corners, matrix))[0]
    limit = np.array(picture.shape[1::-1])
    low = np.clip(np.floor(moved.min(0)) - 4, 0, limit - 2).astype(int)
    high = np.clip(np.ceil(moved.max(0)) + 5, low + 2, limit).astype(int)
    cutting = picture[low[1] : high[1], low[0] : high[0]]
    target = np.maximum(1, np.round((high - low) * shrink)).astype(int)
    small = cv2.resize(cutting, (int(target[0]), int(target[1])), interpolation=cv2.INTER_AREA)
    sx, sy = target / (high - low)
    # pixel centres: small = (full - low + 0.5) * s - 0.5
    shift = np.array(
        [[sx, 0, (0.5 - low[0]) * sx - 0.5], [0, sy, (0.5 - low[1]) * sy - 0.5], [0, 0, 1]]
    )
    return np.asarray(small, np.uint8), np.asarray(shift @ matrix, np.float64)

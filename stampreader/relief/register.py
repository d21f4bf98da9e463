"""Bringing shots of one face onto each other, to well under a pixel.

Features that keep their place whatever the light (SIFT, Lowe 2004) give a homography; the edges
on the spine itself then refine it (enhanced correlation coefficient, Evangelidis and Psarakis
2008). What is left is measured apart from both, by phase correlation of small blocks.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from stampreader.relief.frame import Frame, Matrix, Pixels

Floats = npt.NDArray[np.float32]
Field = npt.NDArray[np.complex64]

COARSE_PX = 900
"""Long side at which features are looked for."""
MOST_FEATURES = 1500
RATIO = 0.8
"""A feature counts if its best partner is so much nearer than its second best (Lowe 2004)."""
FEWEST = 12
"""Fewest features that agree on a homography."""
REACH_PX = 3.0
"""How far, in pixels of the coarse picture, a feature may lie off the homography."""
STILL_PX, STILL_REACH = 480, 0.1
"""Long side at which a mere shift is looked for, and how far it may be, as a share of it."""
MOST_GROWTH = 3.0
"""Shots whose scale differs more do not fit."""
EDGE_SIGMA = 1.4
"""Blur before edges are taken, pixels of the frame."""
LARGE, SMALL = (160, 96), (64, 48)
"""Sides of the blocks that are placed, pixels of the frame: against one shot, then against all."""
MOST_BLOCKS = 160
"""So many blocks are placed at most."""
AGREE_PX = 1.2
"""How far, in pixels of the frame, a block may lie off the common warp."""
NEAR_PX = 2.0
"""A block that moves no farther agrees."""
FEWEST_AGREE = 0.3
"""Least share of blocks that agree; of shots of two faces hardly any do by chance."""


@dataclass(frozen=True, slots=True, eq=False)
class Features:
    """What one shot is recognised by.

    Attributes:
        scale: pixels of the coarse picture a pixel of the shot.
        points: (n, 2) in pixels of the shot. words: (n, 128).
    """

    scale: float
    points: Floats
    words: Floats


@dataclass(frozen=True, slots=True)
class Residual:
    """What registering leaves: a distance in pixels of the frame, and the share that agrees."""

    px: float
    share: float


def find_features(grey: Pixels) -> Features:
    """Features of a shot, found on a small copy with its contrast evened out."""
    scale = min(1.0, COARSE_PX / max(grey.shape))
    small = cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    even = cv2.createCLAHE(3.0, (8, 8)).apply(small)
    points, words = cv2.SIFT.create(MOST_FEATURES, contrastThreshold=0.02).detectAndCompute(
        even, None
    )
    if words is None or len(points) == 0:
        return Features(scale, np.zeros((0, 2), np.float32), np.zeros((0, 128), np.float32))
    places = (np.array([p.pt for p in points]) + 0.5) / scale - 0.5
    root = np.sqrt(words / np.maximum(words.sum(1, keepdims=True), 1e-9))
    return Features(scale, places.astype(np.float32), root.astype(np.float32))


def rough_fit(reference: Features, shot: Features) -> Matrix | None:
    """The homography from the reference to a shot; `None` where too few features agree."""
    if min(len(reference.points), len(shot.points)) < FEWEST:
        return None
    pairs = cv2.BFMatcher(cv2.NORM_L2).knnMatch(reference.words, shot.words, 2)
    good = [p[0] for p in pairs if len(p) == 2 and p[0].distance < RATIO * p[1].distance]
    if len(good) < FEWEST:
        return None
    ours = reference.points[[m.queryIdx for m in good]]
    theirs = shot.points[[m.trainIdx for m in good]]
    cv2.setRNGSeed(1)
    found, agree = cv2.findHomography(
        ours, theirs, cv2.USAC_MAGSAC, REACH_PX / shot.scale, maxIters=4000, confidence=0.999
    )
    if found is None or agree is None or int(agree.sum()) < FEWEST:
        return None
    matrix = np.asarray(found, np.float64)
    return matrix if _is_sane(matrix, ours.mean(0)) else None


def still_fit(reference: Pixels, shot: Pixels) -> Matrix | None:
    """The shift between two pictures of one size from a camera that was roughly still.

    For shots lit so differently that no features agree; `None` for pictures of other sizes.
    """
    if reference.shape != shot.shape:
        return None
    scale = min(1.0, STILL_PX / max(reference.shape))
    fields = [
        edges(
            np.asarray(
                cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA), np.uint8
            ),
            STILL_PX / 20,
        )
        for grey in (reference, shot)
    ]
    window = np.outer(*(np.hanning(side) for side in fields[0].shape))
    a, b = (np.fft.fft2(field * window) for field in fields)
    cross = b * np.conj(a)
    peaks = np.fft.fftshift(np.abs(np.fft.ifft2(cross / (np.sqrt(np.abs(cross)) + 1e-6))))
    y, x = np.unravel_index(int(peaks.argmax()), peaks.shape)
    dx, dy = ((at - side // 2) / scale for at, side in ((x, peaks.shape[1]), (y, peaks.shape[0])))
    if max(abs(dx), abs(dy)) > STILL_REACH * max(reference.shape):
        return None
    return np.array([[1, 0, dx], [0, 1, dy], [0, 0, 1]], np.float64)


def _is_sane(matrix: Matrix, at: Floats) -> bool:
    """Whether a homography turns and scales as a person with a camera could, without a flip."""
    ahead = (np.array([(0, 0), (1, 0), (0, 1)], np.float64) + at)[None]
    o, x, y = np.asarray(cv2.perspectiveTransform(ahead, matrix))[0]
    grown = np.linalg.det(np.stack([x - o, y - o]))
    return bool(1 / MOST_GROWTH**2 < grown < MOST_GROWTH**2)


def edges(grey: Pixels, glyph_px: float) -> Field:
    """Edges by strength and direction, whatever the light: `(H, W) complex64`.

    The gradient squared, as a complex number: a stroke lit from the left and one lit from the
    right give the same. Strength is evened out against what lies around, and what runs on along
    the spine (its outline, the rims of a highlight, which move with the lamp) is taken away.

    Args:
        grey: a shot in the frame, the spine level.
        glyph_px: height of a character.
    """
    values = np.log(grey.astype(np.float32) + 12.0)
    calm = cv2.GaussianBlur(values, (0, 0), EDGE_SIGMA)
    dx, dy = cv2.Sobel(calm, cv2.CV_32F, 1, 0), cv2.Sobel(calm, cv2.CV_32F, 0, 1)
    strength = np.sqrt(dx * dx + dy * dy)
    around = cv2.GaussianBlur(strength, (0, 0), 0.6 * glyph_px) + 0.01
    held = np.minimum(strength / around, 3.0) / np.maximum(strength, 1e-9) ** 2
    both = np.dstack([(dx * dx - dy * dy) * held, 2 * dx * dy * held])
    both -= cv2.blur(both, (2 * round(2 * glyph_px) + 1, 3))
    return np.asarray(both[..., 0] + 1j * both[..., 1], np.complex64)


@dataclass(frozen=True, slots=True, eq=False)
class Blocks:
    """An edge field in overlapping blocks, ready for others to be laid on it.

    Attributes:
        side: of a block, pixels.
        corners: row and column of each.
        spectra: `(n, side, side)`, conjugated.
    """

    side: int
    corners: list[tuple[int, int]]
    spectra: npt.NDArray[np.complexfloating]


def in_blocks(field: Field, side: int) -> Blocks:
    """The blocks of a field that hold most edges."""
    corners = _blocks(field, side)
    return Blocks(side, corners, np.conj(_spectra(field, corners, side)))


def _spectra(
    field: Field, corners: Sequence[tuple[int, int]], side: int
) -> npt.NDArray[np.complexfloating]:
    window = np.outer(np.hanning(side), np.hanning(side)).astype(np.float32)
    cut = np.stack([field[y : y + side, x : x + side] for y, x in corners]) * window
    return np.fft.fft2(cut)


def block_shifts(reference: Blocks, shot: Field) -> tuple[Floats, Floats, Floats]:
    """How far blocks of two edge fields lie apart, by phase correlation (Kuglin, Hines 1975).

    Returns:
        Middles `(n, 2)`, shifts `(n, 2)` and how far each peak stands out `(n,)`.
    """
    side = reference.side
    cross = _spectra(shot, reference.corners, side) * reference.spectra
    cross /= np.sqrt(np.abs(cross)) + 1e-6
    calm = np.exp(-((np.fft.fftfreq(side) / 0.2) ** 2))
    peaks = np.abs(np.fft.ifft2(cross * np.outer(calm, calm).astype(np.float32)))
    shifts, clear = _peak_places(np.fft.fftshift(peaks, (1, 2)))
    middles = np.array([(x + (side - 1) / 2, y + (side - 1) / 2) for y, x in reference.corners])
    return middles.astype(np.float32), shifts, clear


def _peak_places(peaks: npt.NDArray[np.floating]) -> tuple[Floats, Floats]:
    """Sub-pixel places of the highest peaks, from the middle, and how far each stands out."""
    count, side, _ = peaks.shape
    reach = side // 3
    inner = peaks[:, side // 2 - reach : side // 2 + reach, side // 2 - reach : side // 2 + reach]
    top = inner.reshape(count, -1).argmax(1)
    y, x = top // (2 * reach) + side // 2 - reach, top % (2 * reach) + side // 2 - reach
    every = np.arange(count)
    value = peaks[every, y, x]
    dx = _vertex(peaks[every, y, x - 1], value, peaks[every, y, x + 1])
    dy = _vertex(peaks[every, y - 1, x], value, peaks[every, y + 1, x])
    shifts = np.stack([x + dx, y + dy], 1) - side // 2
    clear = value / (peaks.reshape(count, -1).std(1) + 1e-9)
    return shifts.astype(np.float32), clear.astype(np.float32)


def _vertex(
    left: npt.NDArray[np.floating],
    middle: npt.NDArray[np.floating],
    right: npt.NDArray[np.floating],
) -> npt.NDArray[np.floating]:
    """Top of the parabola through three neighbours, from the middle one."""
    bend = left - 2 * middle + right
    return np.clip(0.5 * (left - right) / np.where(np.abs(bend) < 1e-12, -1e-12, bend), -0.5, 0.5)


def refine(reference: Sequence[Blocks], shot: Pixels, frame: Frame, to_shot: Matrix) -> Matrix:
    """A rough fit made fine on the edges of the spine, with blocks of each side in turn.

    Args:
        reference: edges of the reference in the frame, in blocks of each side.
        shot: grey pixels of the whole shot.
        frame: the frame.
        to_shot: the rough fit, reference to shot.
    """
    inner = frame.to_photo
    for blocks in reference:
        moved = edges(frame.cut(shot, to_shot), frame.glyph_px)
        middles, shifts, clear = block_shifts(blocks, moved)
        firm = clear >= np.quantile(clear, 0.3)
        warp = _common_warp(middles[firm], middles[firm] + shifts[firm])
        if warp is not None and _moves_little(warp, frame):
            to_shot = to_shot @ inner @ warp @ np.linalg.inv(inner)
    return to_shot


def in_sides(reference: Field, sides: Sequence[int]) -> list[Blocks]:
    """Blocks of each side that the field has room for."""
    return [in_blocks(reference, side) for side in sides if min(reference.shape) >= side]


def _common_warp(ours: Floats, theirs: Floats) -> Matrix | None:
    """The affine map most blocks follow."""
    if len(ours) < 6:
        return None
    cv2.setRNGSeed(1)
    found, agree = cv2.estimateAffine2D(
        ours, theirs, method=cv2.RANSAC, ransacReprojThreshold=AGREE_PX, maxIters=3000
    )
    if found is None or int(agree.sum()) < max(6, 0.12 * len(ours)):
        return None
    return np.vstack([found, [0, 0, 1]])


def _moves_little(warp: Matrix, frame: Frame) -> bool:
    """Whether a refinement stays within one character's height or so of the rough fit."""
    width, height = frame.size
    corners = np.array([[(0, 0), (width, 0), (width, height), (0, height)]], np.float64)
    moved = np.asarray(cv2.perspectiveTransform(corners, warp))
    return float(np.abs(moved - corners).max()) < 1.5 * frame.glyph_px


def measure_residual(reference: Field, shot: Field) -> Residual:
    """How far small blocks of two registered edge fields still lie apart.

    Returns:
        The median distance of the blocks that agree, and their share of all.
    """
    side = min(SMALL[-1], *reference.shape)
    _, shifts, _ = block_shifts(in_blocks(reference, side), shot)
    apart = np.hypot(shifts[:, 0], shifts[:, 1])
    near = apart[apart <= NEAR_PX]
    if not len(near):
        return Residual(math.inf, 0.0)
    return Residual(float(np.median(near)), len(near) / len(apart))


def _blocks(field: Field, side: int) -> list[tuple[int, int]]:
    """Corners of blocks that overlap by half, at most `MOST_BLOCKS`: those with most edges."""
    high, wide = field.shape
    rows = np.arange(0, max(1, high - side + 1), side // 2)
    columns = np.arange(0, max(1, wide - side + 1), side // 2)
    total = cv2.integral(np.abs(field).astype(np.float32))
    y, x = (grid.ravel() for grid in np.meshgrid(rows, columns, indexing="ij"))
    low, right = np.minimum(y + side, high), np.minimum(x + side, wide)
    held = total[low, right] - total[y, right] - total[low, x] + total[y, x]
    most = np.sort(np.argsort(-held, kind="stable")[:MOST_BLOCKS])
    return [(int(y[k]), int(x[k])) for k in most]

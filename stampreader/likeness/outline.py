"""The outline of a whole connector on a plain ground: shape, size, and a sleeve on its gate."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import cv2
import numpy as np
import numpy.typing as npt

Pixels = npt.NDArray[np.uint8]
Mask = npt.NDArray[np.uint8]
Contour = npt.NDArray[np.int32]

LONG_PX = 900
"""Long side at which an outline is looked for."""
OFF_GROUND = 18.0
"""Distance in CIELAB from the ground's colour from which something lies there."""
LEAST_AREA = 0.02
"""Least area of a connector, as a share of the picture."""
HOLE = (0.25, 0.9)
"""Share of the outline's area that the opening has in a connector."""
SLEEVE = 1.22
"""So much thicker than the body is a sleeve."""
SLEEVE_LENGTH = (0.04, 0.3)
"""Length of a sleeve, as a share of the way round the opening."""


class Gate(StrEnum):
    """What the outline tells of the gate."""

    SLEEVE = "a sleeve on the gate"
    PLAIN = "no sleeve on the gate"


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """A whole connector's outline.

    Attributes:
        contour: `(n, 1, 2) int32`, pixels of the small copy.
        ratio: length by width. opening: share of its area that is open.
        length_mm, width_mm: where the scale is known.
        gate: whether a sleeve shows.
    """

    contour: Contour
    ratio: float
    opening: float
    gate: Gate
    length_mm: float | None = None
    width_mm: float | None = None


def find_outline(picture: Pixels, mm_per_px: float | None = None) -> Outline | None:
    """The outline of the one connector that lies whole on a plain ground.

    Args:
        picture: `(H, W, 3) uint8 BGR`.
        mm_per_px: scale on the ground, from a photo sheet.

    Returns:
        `None` where no closed ring with one large opening stands free of the picture's edges.
    """
    scale = min(1.0, LONG_PX / max(picture.shape[:2]))
    small = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    mask = _off_ground(np.asarray(small, np.uint8))
    ring = _ring(mask)
    if ring is None:
        return None
    outer, hole = ring
    _, (a, b), _ = cv2.minAreaRect(outer)
    long, wide = max(a, b), max(min(a, b), 1.0)
    mm = None if mm_per_px is None else mm_per_px / scale
    return Outline(
        outer,
        long / wide,
        cv2.contourArea(hole) / cv2.contourArea(outer),
        Gate.SLEEVE if _has_sleeve(outer, hole, mask.shape) else Gate.PLAIN,
        None if mm is None else long * mm,
        None if mm is None else wide * mm,
    )


def _off_ground(small: Pixels) -> Mask:
    """Where something lies: pixels unlike the ground at the picture's rim."""
    lab = cv2.cvtColor(small.astype(np.float32) / 255, cv2.COLOR_BGR2Lab)
    rim = np.concatenate(
        [lab[:4].reshape(-1, 3), lab[-4:].reshape(-1, 3), lab[:, :4].reshape(-1, 3)]
    )
    far = np.linalg.norm(lab - np.median(rim, axis=0), axis=2)
    mask = (far > OFF_GROUND).astype(np.uint8)
    kernel = np.ones((5, 5), np.uint8)
    return np.asarray(cv2.morphologyEx(mask, cv2.MORPH_CLOSE, kernel), np.uint8)


def _ring(mask: Mask) -> tuple[Contour, Contour] | None:
    """Outer and inner contour of the one ring that touches no edge."""
    contours, tree = cv2.findContours(mask, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    high, wide = mask.shape
    found = []
    for k, contour in enumerate(contours):
        x, y, w, h = cv2.boundingRect(contour)
        free = x > 1 and y > 1 and x + w < wide - 1 and y + h < high - 1
        area = cv2.contourArea(contour)
        if tree[0][k][3] >= 0 or not free or area < LEAST_AREA * mask.size:
            continue
        holes = [contours[n] for n in range(len(contours)) if tree[0][n][3] == k]
        hole = max(holes, key=cv2.contourArea, default=None)
        if hole is not None and HOLE[0] <= cv2.contourArea(hole) / area <= HOLE[1]:
            found.append((np.asarray(contour, np.int32), np.asarray(hole, np.int32)))
    return found[0] if len(found) == 1 else None


def _has_sleeve(outer: Contour, hole: Contour, shape: tuple[int, ...]) -> bool:
    """Whether the ring is thicker over one stretch, with a step at both ends, and not opposite."""
    inside = np.zeros(shape, np.uint8)
    cv2.drawContours(inside, [outer], -1, 255, -1)
    depth = cv2.distanceTransform(inside, cv2.DIST_L2, 5)
    at = hole.reshape(-1, 2)
    thick = depth[at[:, 1], at[:, 0]]
    usual = float(np.median(thick))
    thicker = thick > SLEEVE * usual
    runs = _runs(thicker)
    lengths = [length / len(thick) for length in runs]
    fitting = [n for n in lengths if SLEEVE_LENGTH[0] <= n <= SLEEVE_LENGTH[1]]
    return len(fitting) == 1 and math.isclose(sum(lengths), fitting[0], abs_tol=0.03)


def _runs(flags: npt.NDArray[np.bool_]) -> list[int]:
    """Lengths of runs on a closed way."""
    if flags.all() or not flags.any():
        return [len(flags)] if flags.all() else []
    turned = np.roll(flags, -int(np.flatnonzero(~flags)[0]))
    steps = np.flatnonzero(np.diff(np.concatenate([[0], turned.astype(int), [0]])))
    return [int(b - a) for a, b in zip(steps[::2], steps[1::2], strict=True)]

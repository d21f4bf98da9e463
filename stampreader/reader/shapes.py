"""Pictograms by their outline alone: a connector lying along the line, with its arrows.

A simple finder for strips of the Tesseract reader. It takes a wide closed outline for a
connector, an outline with a break for an open gate, and looks where marks stand beside it: at its
ends (loaded along) or above and below (loaded across). What it cannot tell it leaves out.
"""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from stampreader.reader.hocr import Character

WIDE = (1.3, 3.5)
"""Width over height of an outline; characters are narrower."""
TALL = (0.45, 2.2)
"""Height of an outline over the height of a character."""
CERTAINTY = 0.6
"""Confidence given to every pictogram found: a rule's guess, never enough for 'sure'."""

Pixels = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float64]


def find_pictograms(strip: Pixels, glyph_px: float) -> tuple[Character, ...]:
    """Pictograms on a strip, `(H, W) uint8`, dark on light, characters `glyph_px` high."""
    if min(strip.shape) < 8:
        return ()
    _, ink = cv2.threshold(strip, 0, 255, cv2.THRESH_BINARY_INV | cv2.THRESH_OTSU)
    outlines, tree = cv2.findContours(ink, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    if tree is None:
        return ()
    boxes = np.array([cv2.boundingRect(c) for c in outlines], float)
    outer = [i for i, node in enumerate(tree[0]) if node[3] < 0]
    signs = []
    for i in outer:
        kind = _kind(outlines[i], _hole_area(outlines, tree[0], i), glyph_px)
        if kind is not None:
            char = _with_arrows(kind, boxes[i], boxes[[j for j in outer if j != i]], glyph_px)
            if char is not None:
                signs.append(_character(char, boxes[i], glyph_px))
    return tuple(signs)


def _hole_area(outlines: object, tree: Floats, i: int) -> float:
    """Area of the holes inside an outline."""
    child, area = int(tree[i][2]), 0.0
    while child >= 0:
        area += cv2.contourArea(outlines[child])  # type: ignore[index]
        child = int(tree[child][0])
    return area


def _kind(outline: cv2.typing.MatLike, hole: float, glyph_px: float) -> str | None:
    """`whole` for a closed outline, `broken` for one with a gap, `None` for anything else."""
    _, _, width, height = cv2.boundingRect(outline)
    if not (WIDE[0] <= width / height <= WIDE[1]):
        return None
    if not (TALL[0] <= height / glyph_px <= TALL[1]):
        return None
    box = float(width * height)
    if hole > 0.3 * box:
        return "whole"
    hull = cv2.contourArea(cv2.convexHull(outline))
    return "broken" if hole < 0.02 * box and cv2.contourArea(outline) < 0.5 * hull else None


def _with_arrows(kind: str, box: Floats, others: Floats, glyph_px: float) -> str | None:
    """Where small marks stand beside the outline decides how the connector is loaded."""
    ends, sides = _beside(box, others, glyph_px)
    if kind == "broken":
        return "<open>" if ends >= sides else None
    if max(ends, sides) == 0 or ends == sides:
        return None
    return "<closed>" if ends > sides else "<cross>"


def _beside(box: Floats, others: Floats, glyph_px: float) -> tuple[int, int]:
    """Numbers of small marks (arrows) right at the ends, and right above and below."""
    if not len(others):
        return 0, 0
    x, y, width, height = box
    small = others[(others[:, 3] < 0.7 * glyph_px) & (others[:, 2] < 0.9 * glyph_px)]
    cx, cy = small[:, 0] + small[:, 2] / 2, small[:, 1] + small[:, 3] / 2
    along, down = np.abs(cx - x - width / 2), np.abs(cy - y - height / 2)
    at_ends = (down < 0.35 * height) & (along < width / 2 + 0.7 * glyph_px) & (along > width / 2)
    at_sides = (along < 0.35 * width) & (down < height / 2 + 0.7 * glyph_px) & (down > height / 2)
    return int(at_ends.sum()), int(at_sides.sum())


def _character(char: str, box: Floats, glyph_px: float) -> Character:
    x, y, width, height = map(float, box)
    return Character(char, x + width / 2, y + height / 2, width, height, glyph_px, CERTAINTY)

"""The colour of a connector's metal or anodising, as far as a photo tells."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

Pixels = npt.NDArray[np.uint8]

MIDDLE = (0.3, 0.7)
"""Rows of a face that surely lie on the spine, as shares of its height."""
BRIGHT, DARK = 92.0, 8.0
"""Lightness (CIE 1976) from which a pixel is a highlight, and under which it has no colour."""
COLOURED, GREY = 22.0, 12.0
"""Chroma from which a surface is coloured, and below which it is grey (common practice, no
source): lamps tint bare metal by ten or so."""
NAMES = (
    (20, "red"), (50, "orange"), (80, "gold"), (110, "yellow"), (175, "green"), (225, "teal"),
    (285, "blue"), (330, "violet"), (360, "red"),
)  # fmt: skip
"""Upper end of each hue in degrees of CIELAB, and its name."""


@dataclass(frozen=True, slots=True)
class Tint:
    """The middle colour of a face in CIELAB.

    Attributes:
        lightness: 0 to 100. chroma: 0 is grey. hue_deg: of the colour, in [0, 360).
    """

    lightness: float
    chroma: float
    hue_deg: float

    @property
    def name(self) -> str:
        """In a word: black, grey, light or a hue.

        Example: `Tint(45, 60, 270)` is blue.
        """
        if self.chroma < (COLOURED + GREY) / 2:
            return "black" if self.lightness < 25 else "grey" if self.lightness < 80 else "light"
        return next(name for end, name in NAMES if self.hue_deg <= end)


def find_tint(faces: Sequence[Pixels]) -> Tint | None:
    """The colour of a face from one or more shots of it, the spine level in each.

    Args:
        faces: `(H, W, 3) uint8 BGR`.

    Returns:
        The median over the middle rows, highlights and the dark left out; `None` if nothing is
        left.
    """
    kept = []
    for face in faces:
        high = face.shape[0]
        rows = face[int(MIDDLE[0] * high) : max(int(MIDDLE[1] * high), int(MIDDLE[0] * high) + 1)]
        lab = cv2.cvtColor(rows.astype(np.float32) / 255, cv2.COLOR_BGR2Lab).reshape(-1, 3)
        fit = lab[(lab[:, 0] < BRIGHT) & (lab[:, 0] > DARK)]
        if len(fit) >= 0.05 * len(lab):
            kept.append(np.median(fit, axis=0))
    if not kept:
        return None
    lightness, a, b = (float(v) for v in np.median(kept, axis=0))
    return Tint(lightness, math.hypot(a, b), math.degrees(math.atan2(b, a)) % 360.0)

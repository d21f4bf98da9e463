"""From grey pixels to a network's input; training uses the same (`train.model.prepare`)."""

from __future__ import annotations

import cv2
import numpy as np

VERSION = 2
"""Raised whenever the preparation changes; weights name the one they were trained with."""
AROUND = 33
"""Side in pixels of the square a pixel is compared with."""
CALM = 0.06
"""Spread of the surroundings, in units of the input, below which nothing is made stronger."""
STRONGEST = 4.0
"""Limit of the second channel."""
CHANNELS = 2


def prepare(grey: np.ndarray) -> np.ndarray:
    """Scale a grey picture for the networks.

    Args:
        grey: (H, W) uint8.

    Returns:
        (1, 2, H, W) float32: −2 for black to 2 for white; and how far each pixel stands out from
        its surroundings, in their standard deviations, so that faint marks are as plain as strong.
    """
    level = grey.astype(np.float32) * np.float32(4 / 255) - np.float32(2)
    square = (AROUND, AROUND)
    mean = cv2.blur(level, square, borderType=cv2.BORDER_REPLICATE)
    power = cv2.blur(level * level, square, borderType=cv2.BORDER_REPLICATE)
    spread = np.sqrt(np.maximum(power - mean * mean, 0)) + np.float32(CALM)
    local = np.clip((level - mean) / spread, -STRONGEST, STRONGEST)
    return np.stack([level, local])[None]

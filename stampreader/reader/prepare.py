"""From grey pixels to a network's input; training uses the same scale (`train.model.prepare`)."""

from __future__ import annotations

import numpy as np

VERSION = 1
"""Raised whenever the preparation changes; weights name the one they were trained with."""


def prepare(grey: np.ndarray) -> np.ndarray:
    """Scale a grey picture for the networks.

    Args:
        grey: (H, W) uint8.

    Returns:
        (1, 1, H, W) float32, −2 for black to 2 for white.
    """
    return (grey.astype(np.float32) * np.float32(4 / 255) - np.float32(2))[None, None]

"""Where the lamp stood at each shot, and where it should stand for the next one.

The direction of each light is known from the relief up to one common sign (sunk lit from the left
looks like raised lit from the right). The round spine settles it: its bright band lies on the
side the lamp is on.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from stampreader.relief.frame import Frame

SIDES = ("right", "bottom right", "bottom", "bottom left", "left", "top left", "top", "top right")
"""Directions from 0 degrees in steps of 45, y downwards."""
WIDE_GAP_DEG = 100.0
"""A gap between lamps from which a shot from there is asked for."""
TELLING = 0.35
"""Least share of the side the bright bands agree on that settles the sign."""


@dataclass(frozen=True, slots=True)
class Lamp:
    """Where the lamp stood, as seen in the reference shot.

    Attributes:
        angle_deg: 0 right, 90 bottom, in [0, 360).
        known: whether the side is known; if not, it may stand opposite.
    """

    angle_deg: float
    known: bool

    @property
    def side(self) -> str:
        """The side in words.

        Example: `left`, or `left or right` if the side is not known.
        """
        here = SIDES[round(self.angle_deg / 45) % 8]
        return here if self.known else f"{here} or {SIDES[round(self.angle_deg / 45 + 4) % 8]}"


def lamps_of(
    lights: npt.NDArray[np.float64], shots: npt.NDArray[np.uint8], frame: Frame
) -> tuple[Lamp, ...]:
    """The lamp of each registered shot.

    Args:
        lights: `(n, 2)` from `combine`, along x and y of the frame, sign open.
        shots: `(n, H, W) uint8`.
        frame: they lie in.
    """
    bands = np.array([bright_side(shot) for shot in shots])
    bands -= bands.mean()
    unit = lights / np.maximum(np.linalg.norm(lights, axis=1, keepdims=True), 1e-9)
    agree = float(unit[:, 1] @ bands)
    weight = float(np.abs(unit[:, 1]) @ np.abs(bands))
    known = weight > 1e-9 and abs(agree) >= TELLING * weight
    sign = -1.0 if agree < 0 else 1.0
    (ax, ay), (bx, by) = frame.quad[0], frame.quad[1]
    turn = math.degrees(math.atan2(by - ay, bx - ax))
    return tuple(
        Lamp((math.degrees(math.atan2(sign * y, sign * x)) + turn) % 360.0, known)
        for x, y in lights
    )


def bright_side(shot: npt.NDArray[np.uint8]) -> float:
    """Where across the spine its light lies: -1 upper edge of the frame, 1 lower edge."""
    rows = np.asarray(cv2.reduce(shot.astype(np.float32), 1, cv2.REDUCE_AVG)).ravel()
    bright = np.maximum(rows - np.median(rows), 0)
    place = np.linspace(-1, 1, len(rows))
    return float(bright @ place / max(float(bright.sum()), 1e-9))


def next_shot(lamps: Sequence[Lamp], doubtful: bool) -> str:
    """What to do for a better reading, one sentence; empty if nothing is wanting.

    Args:
        lamps: of the shots that fit.
        doubtful: whether a figure is still in doubt or missing.
    """
    if not doubtful:
        return ""
    angles = sorted(lamp.angle_deg for lamp in lamps)
    gaps = [(b - a) % 360.0 or 360.0 for a, b in zip(angles, [*angles[1:], angles[0]], strict=True)]
    widest = max(range(len(gaps)), key=lambda k: gaps[k])
    if gaps[widest] < WIDE_GAP_DEG:
        return (
            "One more round of shots with the lamp lower, nearly level with the face, would show "
            "shallow marks better."
        )
    missing = Lamp((angles[widest] + gaps[widest] / 2) % 360.0, all(lamp.known for lamp in lamps))
    return f"One more shot with the lamp from the {missing.side}, low, would help most."

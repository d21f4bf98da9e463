"""Several registered shots as two pictures: the relief, whatever the light, and the reflectance.

Relief: photometric stereo with unknown lights. What changes from shot to shot is, for shallow
marks, a mixture of two slopes of the surface; the two strongest patterns of the change span them
(singular value decomposition, as Hayakawa 1994). Which mixture is which follows from the fact
that slopes belong to one surface (integrability, as Yuille and Snow 1997), and the slopes are
summed up to heights in the frequency domain (Frankot and Chellappa 1988). Heights come out up to
their sign: it cannot be told whether marks are sunk or raised.

Reflectance: the mean of the shots with their large-scale shading taken away, in which laser marks
and paint stay and shading averages out.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from stampreader.relief.frame import Pixels

Floats = npt.NDArray[np.float32]

FEWEST_SHOTS = 3
"""A relief has two unknown slopes; with fewer shots nothing is left to tell noise from them."""
DARK = 8.0
"""Grey levels added before logarithms, so that noise in the dark does not count."""
FINE = 0.027
"""Blur of the noise, in heights of a character."""
SHADING = 0.45
"""Blur that leaves shading only, in heights of a character."""
STREAK = 2.5
"""What runs on along the spine for twice as many heights is no mark: its rims, a highlight's."""
AROUND = 0.9
"""Neighbourhood in which contrast is evened out, in heights of a character."""
FLOOR = 0.03
"""Contrast below which a place is left as faint as it is."""
WIDEST = 2.5
"""Features larger than so many heights of a character are left out of the relief."""


@dataclass(frozen=True, slots=True, eq=False)
class Relief:
    """What a stack of shots shows together.

    Attributes:
        height: `(H, W) uint8`, the relief map; sunk may be dark or light.
        reflectance: `(H, W) uint8`.
        lights: `(n, 2) float64`, where the light of each shot came from, along x and y of the
            frame, up to a common factor and a common sign.
        share: part of the change between the shots that two slopes explain, 0 to 1.
    """

    height: Pixels
    reflectance: Pixels
    lights: npt.NDArray[np.float64]
    share: float


def combine(shots: npt.NDArray[np.uint8], glyph_px: float, weight: Floats) -> Relief:
    """The relief map and the reflectance map of registered shots.

    Args:
        shots: `(n, H, W) uint8`, at least three, registered.
        glyph_px: height of a character.
        weight: `(H, W) float32`, 0 to 1, how much a place counts: what lies beside the spine
            changes with the light too.
    """
    even = np.stack([evened(shot, glyph_px) for shot in shots])
    patterns, share = changes(even, weight)
    p, q = as_slopes(patterns, weight)
    height = heights(p, q, WIDEST * glyph_px)
    lights = lights_of(even, p, q, weight)
    reflectance = as_picture(np.asarray(even.mean(0), np.float32), weight)
    return Relief(as_picture(height, weight), reflectance, lights, share)


def evened(shot: Pixels, glyph_px: float) -> Floats:
    """A shot without its large-scale shading, contrast alike everywhere: `(H, W) float32`."""
    values = _blur(np.log(shot.astype(np.float32) + DARK), max(FINE * glyph_px, 0.6))
    fine = values - _blur(values, SHADING * glyph_px)
    fine -= cv2.blur(fine, (2 * round(STREAK * glyph_px) + 1, 1))
    contrast = np.sqrt(_blur(fine * fine, AROUND * glyph_px))
    return np.asarray(fine / (contrast + FLOOR), np.float32)


def changes(even: Floats, weight: Floats) -> tuple[Floats, float]:
    """The two strongest patterns of change between shots, `(2, H, W)`, and their share of it."""
    count, high, wide = even.shape
    rows = (even - even.mean(0)).reshape(count, -1)
    counted = rows * weight.ravel()
    values, turns = np.linalg.eigh((counted @ rows.T).astype(np.float64))
    patterns = (turns[:, -2:].T @ rows).reshape(2, high, wide)
    patterns /= patterns.std((1, 2), keepdims=True) + 1e-9
    share = float(values[-2:].sum() / max(values.sum(), 1e-12))
    return patterns[::-1].astype(np.float32), share


def as_slopes(patterns: Floats, weight: Floats) -> tuple[Floats, Floats]:
    """The mixture of two patterns that is the x and y slope of one surface, up to a factor.

    Of all mixtures (p, q) it is the one whose dp/dy and dq/dx differ least.
    """
    calm = [_blur(pattern, 1.0) for pattern in patterns]
    dx = [cv2.Sobel(c, cv2.CV_32F, 1, 0).ravel() for c in calm]
    dy = [cv2.Sobel(c, cv2.CV_32F, 0, 1).ravel() for c in calm]
    terms = np.stack([dy[0], dy[1], -dx[0], -dx[1]])
    _, turns = np.linalg.eigh((terms * weight.ravel() @ terms.T).astype(np.float64))
    a, b, c, d = (float(v) for v in turns[:, 0])
    first, second = patterns
    return (
        np.asarray(a * first + b * second, np.float32),
        np.asarray(c * first + d * second, np.float32),
    )


def heights(p: Floats, q: Floats, widest_px: float) -> Floats:
    """The surface whose slopes are nearest to p and q, without features wider than given."""
    high, wide = p.shape
    tall, long = (cv2.getOptimalDFTSize(side + round(widest_px)) for side in (high, wide))
    border = (0, tall - high, 0, long - wide)
    u = (2 * np.pi * np.fft.rfftfreq(long)).astype(np.float32)
    v = (2 * np.pi * np.fft.fftfreq(tall)).astype(np.float32)[:, None]
    slopes = [np.fft.rfft2(cv2.copyMakeBorder(s, *border, cv2.BORDER_CONSTANT)) for s in (p, q)]
    weight = u * u + v * v + np.float32((2 * np.pi / widest_px) ** 2)
    surface = np.fft.irfft2((-1j * u * slopes[0] - 1j * v * slopes[1]) / weight, (tall, long))
    return np.asarray(surface[:high, :wide], np.float32)


def lights_of(even: Floats, p: Floats, q: Floats, weight: Floats) -> npt.NDArray[np.float64]:
    """Where the light of each shot came from, `(n, 2)`: what slopes it shows bright, negated."""
    slopes = np.stack([p.ravel(), q.ravel()]).astype(np.float64)
    slopes -= slopes.mean(1, keepdims=True)
    counted = slopes * weight.ravel()
    shown = counted @ even.reshape(len(even), -1).astype(np.float64).T
    found = np.linalg.solve(counted @ slopes.T + 1e-9 * np.eye(2), shown)
    return np.asarray(-found.T, np.float64)


def as_picture(values: Floats, weight: Floats) -> Pixels:
    """Values as grey levels, the outermost hundredths of those that count cut off."""
    low, high = np.percentile(values[weight >= 0.5 * weight.max()], (1.0, 99.0))
    grey = (values - low) / max(float(high - low), 1e-9) * 255
    return np.asarray(np.clip(grey, 0, 255), np.uint8)


def _blur(values: Floats, sigma: float) -> Floats:
    return np.asarray(cv2.GaussianBlur(values, (0, 0), sigma), np.float32)

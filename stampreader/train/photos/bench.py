"""The surface everything lies on: an albedo picture, a roughness, and gentle waves for cloth."""

from __future__ import annotations

import cv2
import numpy as np

from .relief import noise

SIZE = 1536  # pixels of the albedo picture
SPAN = 420.0  # mm it covers
KINDS = ("wood", "cloth", "plastic", "paper", "concrete", "rubber", "steel", "cardboard", "rock")


def _field(rng: np.random.Generator, cell: float) -> np.ndarray:
    return noise(rng, (SIZE, SIZE), cell)


def _tint(rng: np.random.Generator, low: float, high: float) -> np.ndarray:
    """A colour, mostly muted."""
    colour = rng.uniform(low, high, 3)
    return colour + (colour.mean() - colour) * rng.uniform(0.2, 0.9)


def _grain(rng: np.random.Generator, across: float, along: float) -> np.ndarray:
    """Noise drawn out along the boards."""
    rough = rng.standard_normal((int(SIZE / across) + 2, int(SIZE / along) + 2))
    return cv2.resize(rough.astype(np.float32), (SIZE, SIZE), interpolation=cv2.INTER_CUBIC)


def _wood(rng: np.random.Generator) -> np.ndarray:
    y = (np.mgrid[0:SIZE, 0:SIZE][0] / SIZE).astype(np.float32)
    warp = y + 0.012 * _grain(rng, 160, 500) + 0.03 * _grain(rng, 500, 1200)
    rings = np.sin(warp * rng.uniform(150, 420) + 2 * _grain(rng, 300, 900))
    pores = _grain(rng, 1.3, 45)
    base = np.array([0.36, 0.21, 0.11]) * rng.uniform(0.35, 1.7)
    base = base + (base.mean() - base) * rng.uniform(0, 0.55)
    shade = 1 + 0.1 * rings + 0.13 * np.clip(pores, -2.5, 0.6) + 0.12 * _grain(rng, 25, 500)
    board = rng.uniform(0.88, 1.12, 6)[np.clip((y * 6).astype(int), 0, 5)]
    gap = np.clip(1.4 - np.abs((y * 6) % 1 - 0.5) * 2 * 1.402 * 1.0, 0.02, 1) * 20
    return base * np.clip(shade * board * np.clip(gap, 0.1, 1), 0.05, 2)[..., None]


def _cloth(rng: np.random.Generator) -> np.ndarray:
    y, x = np.mgrid[0:SIZE, 0:SIZE].astype(np.float32)
    pitch = rng.uniform(4, 9)
    weave = np.sin(x * np.pi / pitch) * np.sin(y * np.pi / pitch)
    base = _tint(rng, 0.02, 0.6)
    shade = 0.85 + 0.25 * weave + 0.1 * _field(rng, 3) + 0.08 * _field(rng, 90)
    return base * np.clip(shade, 0.2, 2)[..., None]


def _concrete(rng: np.random.Generator) -> np.ndarray:
    shade = 1 + 0.12 * _field(rng, 120) + 0.1 * _field(rng, 14) + 0.12 * _field(rng, 3)
    pits = np.clip(_field(rng, 9) - 2.0, 0, 1)
    base = np.array([0.36, 0.35, 0.33]) * rng.uniform(0.6, 1.3)
    return base * np.clip(shade - pits, 0.1, 2)[..., None]


def _flat(rng: np.random.Generator, base: np.ndarray, grain: float) -> np.ndarray:
    shade = 1 + grain * _field(rng, 2.5) + grain * _field(rng, 40) + 0.5 * grain * _field(rng, 300)
    return base * np.clip(shade, 0.3, 2)[..., None]


def _paper(rng: np.random.Generator) -> np.ndarray:
    sheet = _flat(rng, np.array([0.78, 0.77, 0.74]) * rng.uniform(0.75, 1.0), 0.02)
    y, x = np.mgrid[0:SIZE, 0:SIZE]
    pitch = int(rng.integers(18, 30))
    way = rng.random()
    if way < 0.4:
        lines = (y % pitch == 0) | ((x % pitch == 0) & (way < 0.2))
        sheet[lines] *= np.array([0.62, 0.72, 0.88])
    elif way < 0.75:
        _print_lines(rng, sheet)
    return sheet


def _print_lines(rng: np.random.Generator, sheet: np.ndarray) -> None:
    """Grey bars where a page of print would have words (too coarse to read)."""
    for y in range(40, SIZE - 40, int(rng.integers(20, 34))):
        x = 60
        while x < SIZE - 120:
            w = int(rng.integers(10, 70))
            if rng.random() < 0.9:
                sheet[y : y + 7, x : x + w] *= 0.45
            x += w + 8


def invent_bench(rng: np.random.Generator) -> tuple[np.ndarray, float, float, str]:
    """Albedo picture (SIZE, SIZE, 3), roughness, height of waves in mm, and name."""
    name = KINDS[rng.integers(0, len(KINDS))]
    u = rng.uniform
    if name == "wood":
        out = _wood(rng), u(0.3, 0.8), 0.0
    elif name == "cloth":
        out = _cloth(rng), 0.95, u(0.3, 2.0)
    elif name in ("concrete", "rock"):
        out = _concrete(rng), 0.95, (0.6 if name == "rock" else 0.15)
    elif name == "paper":
        out = _paper(rng), 0.85, 0.1
    elif name == "rubber":
        out = _flat(rng, np.full(3, u(0.015, 0.06)), 0.12), u(0.55, 0.8), 0.1
    elif name == "steel":
        out = _flat(rng, np.array([0.3, 0.31, 0.32]) * u(0.5, 1.2), 0.1), u(0.35, 0.6), 0.0
    elif name == "cardboard":
        out = _flat(rng, np.array([0.42, 0.29, 0.17]) * u(0.7, 1.2), 0.05), 0.9, 0.1
    else:
        out = _flat(rng, _tint(rng, 0.02, 0.75), 0.02), u(0.15, 0.5), 0.0
    stains = np.clip(_field(rng, 180) - 1.3, 0, 1) * u(0, 0.6)
    picture = np.clip(out[0] * (1 - stains[..., None]), 0.004, 0.9).astype(np.float32)
    return picture, float(out[1]), float(out[2]), name


def waves(rng: np.random.Generator, height: float, n: int = 160) -> np.ndarray:
    """Grid (n, n, 3) of the bench, z at most 0."""
    x = np.linspace(-SPAN / 2, SPAN / 2, n)
    yy, xx = np.meshgrid(x, x, indexing="ij")
    z = noise(rng, (n, n), 14) * height
    return np.stack([xx, yy, z - z.max()], -1)

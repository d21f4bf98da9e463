"""Textures the shader draws from, made once at the start on the CPU.

Each bank is a (N, S, S) float32 array. Environments stand for all the light a polished surface can
mirror, indexed by the surface normal; noise banks give brushing, casting, scratches and benches.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from stampreader.train.surroundings import mirrored

Array = np.ndarray
GLINTS = 0.3
"""Share of environments with small bright lights."""
REAL = 0.5
"""Share of environments taken from photographed surroundings, where there are any."""


def _cloud(rng: np.random.Generator, size: int, octaves: int = 6, fall: float = 0.55) -> Array:
    """Noise of several octaves, mean 0, spread 1."""
    total = np.zeros((size, size), np.float32)
    for o in range(octaves):
        n = 2 ** (o + 1)
        grid = rng.normal(size=(n + 3, n + 3)).astype(np.float32)
        big = cv2.resize(grid, None, fx=size / n, fy=size / n, interpolation=cv2.INTER_CUBIC)
        y, x = rng.integers(0, max(big.shape[0] - size, 1), 2)
        total += fall**o * big[y : y + size, x : x + size]
    return (total - total.mean()) / (total.std() + 1e-6)


def environments(
    rng: np.random.Generator, count: int, size: int = 64, probes: Sequence[Array] = ()
) -> Array:
    """(count, 3, size, size): light by normal, sharp, satin and matt.

    Args:
        rng: chance.
        count: how many.
        size: side in pixels.
        probes: photographed surroundings; without any, all light is invented.
    """
    out = np.empty((count, 3, size, size), np.float32)
    for i in range(count):
        if len(probes) and rng.random() < REAL:
            light = mirrored(rng, probes[int(rng.integers(len(probes)))], size)
            light *= rng.uniform(0.25, 0.8) / max(float(np.minimum(light, 6.0).mean()), 1e-3)
        else:
            light = _invented(rng, size)
        if rng.random() < GLINTS:
            light = _with_small_lights(rng, light)
        for level, sigma in enumerate((0.6, 3.0, 8.0)):
            out[i, level] = cv2.GaussianBlur(light, (0, 0), sigma)
    return out


def _invented(rng: np.random.Generator, size: int) -> Array:
    """A ramp, perhaps a horizon, a few lamps and dark things."""
    y, x = np.mgrid[-1 : 1 : size * 1j, -1 : 1 : size * 1j].astype(np.float32)
    a = rng.uniform(0, 2 * np.pi)
    ramp = np.cos(a) * x + np.sin(a) * y
    light = rng.uniform(0.03, 0.5) + rng.uniform(0, 0.5) * (ramp + 1) / 2
    if rng.random() < 0.6:  # a horizon: bench below, room above
        edge = 1 / (1 + np.exp(-(ramp - rng.uniform(-0.6, 0.6)) * rng.uniform(3, 40)))
        light = light * (rng.uniform(0.15, 1) + rng.uniform(0, 1.6) * edge)
    light = light * np.exp(rng.uniform(0, 0.6) * _cloud(rng, size, 4))
    light = light.astype(np.float32)
    for _ in range(int(rng.integers(0, 7))):
        lit = rng.random() < 0.72
        value = float(np.exp(rng.uniform(-0.3, 2.2))) if lit else float(rng.uniform(0, 0.15))
        shape = np.zeros((size, size), np.float32)
        centre = rng.uniform(-0.1, 1.1, 2) * size
        axes = np.exp(rng.uniform(np.log(1.5), np.log(26), 2))
        turn = float(rng.uniform(0, 180))
        if rng.random() < 0.6:
            box = cv2.boxPoints(
                (
                    (float(centre[0]), float(centre[1])),
                    (float(axes[0] * 2), float(axes[1] * 2)),
                    turn,
                )
            )
            cv2.fillPoly(shape, [np.round(box * 16).astype(np.int32)[:, None]], 1.0, cv2.LINE_8, 4)
        else:
            cv2.ellipse(
                shape,
                (int(centre[0]), int(centre[1])),
                (int(axes[0]) + 1, int(axes[1]) + 1),
                turn,
                0,
                360,
                1.0,
                -1,
            )
        shape = cv2.GaussianBlur(shape, (0, 0), rng.uniform(0.4, 3))
        light = light * (1 - shape) + value * shape
    return np.asarray(light, np.float32)


def _with_small_lights(rng: np.random.Generator, light: Array) -> Array:
    """A dimmed environment with small bright lights: a mark shows by the glints on its edges."""
    size = len(light)
    light = light * rng.uniform(0.3, 0.8)
    for _ in range(int(rng.integers(1, 5))):
        spot = np.zeros((size, size), np.float32)
        x, y = (int(v) for v in rng.uniform(0.05, 0.95, 2) * size)
        axes = tuple(int(v) for v in np.ceil(np.exp(rng.uniform(-0.5, 1.2, 2))))
        cv2.ellipse(spot, (x, y), axes, float(rng.uniform(0, 180)), 0, 360, 1.0, -1)
        light = light + float(np.exp(rng.uniform(1.0, 3.2))) * cv2.GaussianBlur(spot, (0, 0), 0.6)
    return np.asarray(light, np.float32)


def clouds(rng: np.random.Generator, count: int, size: int = 512) -> Array:
    """Blotches: wear, dirt, casting."""
    return np.stack([_cloud(rng, size, 8, rng.uniform(0.45, 0.95)) for _ in range(count)])


def brushings(rng: np.random.Generator, count: int, size: int = 512) -> Array:
    """Noise drawn out along x: brushing and machining marks."""
    out = np.empty((count, size, size), np.float32)
    for i in range(count):
        noise = rng.normal(size=(size, size)).astype(np.float32)
        length = int(rng.integers(20, 260)) | 1
        noise = cv2.blur(noise, (length, 1))
        noise = cv2.GaussianBlur(noise, (0, 0), sigmaX=0.6, sigmaY=rng.uniform(0.3, 1.6))
        out[i] = noise / (noise.std() + 1e-6)
    return out


def scratches(rng: np.random.Generator, count: int, size: int = 512) -> Array:
    """Depth 0 to 1 of scratches, dents and pits."""
    out = np.empty((count, size, size), np.float32)
    for i in range(count):
        paper = np.zeros((size, size), np.float32)
        main = rng.uniform(0, np.pi)
        for _ in range(int(np.exp(rng.uniform(0.5, 5.2)))):
            a = main + rng.normal(0, 0.35) if rng.random() < 0.7 else rng.uniform(0, np.pi)
            p = rng.uniform(0, size, 2)
            reach = np.exp(rng.uniform(1.5, 5.5))
            bow = rng.normal(0, 0.06) * reach
            t = np.linspace(-1, 1, 9)[:, None]
            way, side = np.array([np.cos(a), np.sin(a)]), np.array([-np.sin(a), np.cos(a)])
            line = p + way * t * reach / 2 + side * bow * (1 - t**2)
            cv2.polylines(
                paper,
                [np.round(line * 16).astype(np.int32)[:, None]],
                False,
                float(rng.uniform(0.15, 1)),
                int(rng.choice([1, 1, 1, 2, 3])),
                cv2.LINE_AA,
                4,
            )
        for _ in range(int(rng.integers(0, 60))):
            p = rng.integers(0, size, 2)
            cv2.circle(
                paper,
                (int(p[0]), int(p[1])),
                int(np.exp(rng.uniform(0, 1.8))),
                float(rng.uniform(0.2, 1)),
                -1,
                cv2.LINE_AA,
            )
        out[i] = cv2.GaussianBlur(paper, (0, 0), 0.7)
    return out


def benches(rng: np.random.Generator, count: int, size: int = 512) -> Array:
    """What lies behind the connector, 0 to 1: wood, cloth, plain, clutter, stone, gravel, rope."""
    out = np.empty((count, size, size), np.float32)
    y, x = np.mgrid[0:size, 0:size].astype(np.float32)
    for i in range(count):
        base = rng.uniform(0.05, 0.9)
        kind = int(rng.integers(0, 9))
        paper = np.full((size, size), base, np.float32) + 0.05 * _cloud(rng, size, 3) * rng.uniform(
            0, 1.5
        )
        if kind == 0:  # wood
            grain = _cloud(rng, size, 5)
            paper += rng.uniform(0.03, 0.2) * np.sin(
                x / rng.uniform(4, 25) + 2.5 * cv2.blur(grain, (1, 301))
            )
            paper += (
                rng.uniform(0, 0.08)
                * cv2.blur(rng.normal(size=(size, size)).astype(np.float32), (1, 41))
                * 6
            )
        elif kind == 1:  # woven cloth
            p = rng.uniform(2, 9)
            paper += (
                rng.uniform(0.03, 0.25)
                * np.sin(2 * np.pi * x / p)
                * np.sin(2 * np.pi * y / (p * rng.uniform(0.8, 1.4)))
            )
            paper += rng.uniform(0, 0.08) * rng.normal(size=(size, size)).astype(np.float32)
        elif kind == 2:  # speckle
            paper += rng.uniform(0.02, 0.15) * _cloud(rng, size, 8, 0.95)
        elif kind == 3:  # clutter of other things, edges and ruler ticks
            for _ in range(int(rng.integers(3, 25))):
                points = rng.uniform(-60, size + 60, 2) + rng.normal(
                    0, rng.uniform(15, 140), (int(rng.integers(3, 6)), 2)
                )
                cv2.fillPoly(
                    paper, [points.astype(np.int32)[:, None]], float(rng.uniform(0, 1)), cv2.LINE_AA
                )
            step = float(rng.uniform(5, 18))
            for k in range(int(rng.integers(0, 40))):
                cv2.line(
                    paper,
                    (int(40 + k * step), 60),
                    (int(40 + k * step), 60 + (20 if k % 5 == 0 else 10)),
                    float(rng.uniform(0, 1)),
                    1,
                    cv2.LINE_AA,
                )
            paper = cv2.GaussianBlur(paper, (0, 0), rng.uniform(0.4, 4))
        elif kind == 4:  # keys, threads, mesh
            p = rng.uniform(8, 60)
            cell = (np.sin(np.pi * x / p) ** 2 * np.sin(np.pi * y / p) ** 2) ** rng.uniform(0.05, 1)
            paper += rng.uniform(-0.5, 0.5) * cell
        elif kind == 5:
            paper = _pitted(rng, paper)
        elif kind == 6:
            paper = _gravel(rng, paper)
        elif kind == 7:
            paper += rng.uniform(0.1, 0.5) * _braid(rng, x, y)
        out[i] = np.clip(paper, 0.01, 1.2)
    return out


def _pitted(rng: np.random.Generator, paper: Array) -> Array:
    """Stone, concrete, cast plates: holes with a lit and a dark rim, grains of two tones."""
    size = len(paper)
    paper = paper + rng.uniform(0.02, 0.12) * _cloud(rng, size, 8, 0.9)
    largest = rng.uniform(0.7, 2.6)
    for _ in range(int(np.exp(rng.uniform(2.0, 6.2)))):
        centre = rng.integers(0, size, 2)
        radius = np.exp(rng.uniform(0, largest, 2)).astype(int) + 1
        turn, dark = float(rng.uniform(0, 180)), float(rng.uniform(0.02, 0.9))
        for shift, tone in ((1, min(1.0, dark + 0.4)), (0, dark)):
            cv2.ellipse(
                paper, (centre + shift).tolist(), radius.tolist(), turn, 0, 360, tone, -1,
                cv2.LINE_AA,
            )  # fmt: skip
    return cv2.GaussianBlur(paper.astype(np.float32), (0, 0), rng.uniform(0.4, 1.5))


def _gravel(rng: np.random.Generator, paper: Array) -> Array:
    """Stones, crumbs or beads lying over each other, each with a shadow."""
    size = len(paper)
    typical = rng.uniform(1.2, 3.4)
    for _ in range(int(min(2500, 3 * size * size / np.exp(2 * typical)))):
        centre = rng.integers(0, size, 2)
        radius = np.exp(rng.normal(typical, 0.35, 2)).astype(int) + 1
        turn, tone = float(rng.uniform(0, 180)), float(rng.uniform(0.1, 1.0))
        for shift, part in ((2, 0.25), (0, 1.0), (-1, 1.25)):
            shown = (radius * (1.0 if shift >= 0 else 0.6)).astype(int) + 1
            cv2.ellipse(
                paper, (centre + shift).tolist(), shown.tolist(), turn, 0, 360, tone * part, -1,
                cv2.LINE_AA,
            )  # fmt: skip
    return cv2.GaussianBlur(paper.astype(np.float32), (0, 0), rng.uniform(0.4, 1.5))


def _braid(rng: np.random.Generator, x: Array, y: Array) -> Array:
    """Strands of a rope's sheath or a twill, -1 to 1."""
    pitch, lean = rng.uniform(6, 40), rng.uniform(0.5, 1.6)
    left, right = (x + lean * y) / pitch, (x - lean * y) / pitch
    over = np.sin(np.pi * left) * np.sin(np.pi * right) > 0
    strand = np.where(over, np.abs(np.sin(np.pi * right)), np.abs(np.sin(np.pi * left)))
    fibres = np.sin(np.where(over, left, right) * rng.uniform(10, 40))
    return np.asarray(2 * strand ** rng.uniform(0.4, 1.5) - 1 + 0.3 * fibres, np.float32)


def build(seed: int, many: int, probes: Sequence[Array] = ()) -> dict[str, Array]:
    """All banks; `many` environments, some from photographed surroundings, a share of the rest."""
    rng = np.random.default_rng(seed)
    few = max(many // 16, 4)
    return {
        "light": environments(rng, many, probes=probes),
        "cloud": clouds(rng, few),
        "brush": brushings(rng, few),
        "scratch": scratches(rng, few),
        "bench": benches(rng, few * 2),
    }

"""Gates, sleeves, rivets, and the clutter of a workbench."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .mesh import Mesh, box, from_grid, joined, tube, turned
from .shapes import Form, gate_ends

STEEL = np.array([0.56, 0.57, 0.58])


def rod(a: np.ndarray, b: np.ndarray, radius: float, colour: np.ndarray, rough: float) -> Mesh:
    """A rod with rounded ends from a to b."""
    length = float(np.linalg.norm(b - a))
    t = np.r_[np.linspace(0, radius, 8), np.linspace(radius, length - radius, 40)[1:-1]]
    t = np.r_[t, np.linspace(length - radius, length, 8)]
    end = np.clip(np.minimum(t, length - t) / radius, 0, 1)
    r = radius * np.sqrt(np.clip(1 - (1 - end) ** 2, 0.0004, 1))
    return turned(np.repeat(r[:, None], 48, 1), t, b - a, a, colour, rough, 1.0)


def sleeve(
    a: np.ndarray, b: np.ndarray, radius: float, style: str, colour: np.ndarray, rough: float
) -> Mesh:
    """A locking sleeve on the gate: ribbed, knurled, threaded or hexagonal."""
    length = float(np.linalg.norm(b - a))
    rows, cols = 240, 240
    t = np.linspace(0, 1, rows)
    angle = np.linspace(0, 2 * np.pi, cols, endpoint=False)
    tt, aa = np.meshgrid(t, angle, indexing="ij")
    ends = np.clip(np.minimum(tt, 1 - tt) * length / 1.2, 0, 1)
    r = radius * (0.86 + 0.14 * np.sqrt(1 - (1 - ends) ** 2))
    grip = np.clip(np.minimum(tt - 0.12, 0.88 - tt) * 30, 0, 1)
    if style == "ribbed":
        r = r + 0.28 * grip * np.clip(np.sin(aa * 20) * 1.6, -1, 1)
    elif style == "knurled":
        p, q = aa * 15 + tt * length * 1.6, aa * 15 - tt * length * 1.6
        r = r + 0.22 * grip * np.maximum(np.sin(p), np.sin(q))
    elif style == "threaded":
        r = r + 0.3 * np.sin(tt * length / 1.25 * 2 * np.pi + aa) * grip
    else:
        hexagon = np.cos(np.pi / 6) / np.cos((aa % (np.pi / 3)) - np.pi / 6)
        r = r * (0.93 + 0.07 * np.sqrt(1 - (1 - ends) ** 2)) * hexagon * 1.08
    r[0], r[-1] = radius * 0.3, radius * 0.3
    return turned(r, t * length, b - a, a, colour, rough, 1.0)


def gate(form: Form, rng: np.random.Generator, colour: np.ndarray, rough: float) -> list[Mesh]:
    """Gate, sleeve or nut, and the hinge rivet."""
    low, high = (np.r_[p, 0.0] for p in gate_ends(form))
    r = form.stock / 2
    parts: list[Mesh] = []
    grey = STEEL * rng.uniform(0.85, 1.1)
    own = colour if rng.random() < 0.5 else grey
    if form.gate == "wire":
        parts += _wire(form, low, high, grey, rng)
    else:
        parts.append(rod(low, high, r * (0.95 if form.gate == "nut" else 0.74), own, rough))
    way = high - low
    if form.gate == "sleeve":
        style = ("ribbed", "knurled", "ribbed", "threaded")[rng.integers(0, 4)]
        a, b = low + way * rng.uniform(0.2, 0.3), low + way * rng.uniform(0.72, 0.86)
        tint = own if rng.random() < 0.55 else np.array([0.03, 0.03, 0.035])
        parts.append(sleeve(a, b, r * rng.uniform(1.0, 1.22), style, tint, rough))
        parts.append(sleeve(b, low + way * 0.97, r * 0.82, "threaded", grey, 0.3))
    elif form.gate == "nut":
        parts.append(sleeve(low - way * 0.08, low + way * 0.68, r * 1.42, "hex", own, rough))
        parts.append(sleeve(low + way * 0.68, low + way * 1.0, r * 0.96, "threaded", own, 0.3))
    if form.gate != "nut":
        pin = low + np.array([0.0, -0.5, 0])
        up = np.array([0.0, 0.0, r * 1.04])
        parts.append(rod(pin - up, pin + up, r * 0.36, grey, 0.35))
    return parts


def _wire(
    form: Form, low: np.ndarray, high: np.ndarray, grey: np.ndarray, rng: np.random.Generator
) -> list[Mesh]:
    r = form.stock / 2
    t = np.linspace(0, np.pi, 40)
    width = r * 0.62
    tip = high + np.array([0.6, 2.0, 0])
    loop = tip + np.c_[np.zeros(40), width * np.sin(t) * 0.8, width * np.cos(t)]
    left = np.linspace(low + np.array([0, 0, width]), loop[0], 60)
    right = np.linspace(loop[-1], low - np.array([0, 0, width]), 60)
    path = np.concatenate([left, loop[1:-1], right])
    return [tube(path, 1.25, 20, grey, 0.28, 1.0)]


def rope(rng: np.random.Generator, path: np.ndarray, radius: float) -> Mesh:
    """A kernmantle rope along a path, with a braided sheath in two or three colours."""
    way = np.r_[0, np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))]
    n = int(way[-1] / 0.35)
    at = np.linspace(0, way[-1], n)
    fine = np.c_[[np.interp(at, way, path[:, k]) for k in range(3)]].T
    sides = 128
    angle = np.linspace(0, 2 * np.pi, sides, endpoint=False)
    aa, uu = angle[None], at[:, None]
    p = aa * 10 + uu * 10 / (radius * 1.9)
    q = aa * 10 - uu * 10 / (radius * 1.9)
    over = np.sin(p) * np.sin(q)
    r = radius * (1 + 0.045 * np.abs(over) + 0.012 * np.sin(p * 5) * (over > 0))
    base, second = rng.uniform(0.02, 0.8, 3), rng.uniform(0.02, 0.8, 3)
    strand = (np.floor(p / np.pi) % 10) < rng.integers(1, 4)
    colour = np.where((strand & (over > 0))[..., None], second, base)
    colour = colour * (0.75 + 0.25 * np.abs(over))[..., None]
    return tube(fine, r, sides, colour, 0.85, 0.0)


def pen(rng: np.random.Generator, at: np.ndarray, angle: float) -> Mesh:
    """A pen or pencil lying on the bench."""
    length, r = rng.uniform(120, 160), rng.uniform(3.4, 5.5)
    t = np.r_[0, np.linspace(0.01, 0.12, 10), np.linspace(0.13, 0.99, 60), 1.0]
    profile = np.interp(t, [0, 0.01, 0.12, 0.13, 0.99, 1], [0.05, 0.25, 0.9, 1, 0.95, 0.05])
    colour = np.tile(rng.uniform(0.02, 0.7, 3), (len(t), 32, 1))
    colour[(t > 0.3) & (t < 0.33)] = STEEL
    colour[t < 0.12] = rng.uniform(0.05, 0.6, 3)
    axis = np.array([np.cos(angle), np.sin(angle), 0.0])
    start = at + np.array([0, 0, r])
    return turned(np.repeat(profile[:, None] * r, 32, 1), t * length, axis, start, colour, 0.3, 0.0)


def ruler(rng: np.random.Generator, at: np.ndarray, angle: float) -> Mesh:
    """A steel or plastic ruler with millimetre ticks."""
    length, width = 160.0, rng.uniform(15, 28)
    x, y = np.arange(0, length, 0.25), np.arange(0, width, 0.5)
    xx, yy = np.meshgrid(x, y, indexing="ij")
    tick = np.where(xx % 10 < 0.3, 7, np.where(xx % 5 < 0.3, 5, 3.2))
    ink = (xx % 1 < 0.3) & (yy < tick)
    steel = rng.random() < 0.6
    base = STEEL if steel else np.array([0.75, 0.72, 0.55])
    colour = np.where(ink[..., None], 0.03, base)
    grid = np.stack([xx, yy, np.full_like(xx, 0.9)], -1)[:, ::-1]
    top = from_grid(grid, False, colour[:, ::-1], 0.3, 1.0 * steel * (~ink[:, ::-1]))
    low = box(
        np.array([length / 2, width / 2, 0.42]), np.array([length, width, 0.84]), base, 0.4, 0
    )
    c, s = np.cos(angle), np.sin(angle)
    return joined([top, low]).moved(np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]]), at)


def washer(rng: np.random.Generator, at: np.ndarray, angle: float) -> Mesh:
    """A flat washer or ring."""
    r, w = rng.uniform(7, 15), rng.uniform(1.2, 3)
    t = np.linspace(0, 2 * np.pi, 97)
    path = at + np.c_[r * np.cos(t), r * np.sin(t), np.full(97, w)]
    return tube(path, w, 24, STEEL * rng.uniform(0.7, 1.1), rng.uniform(0.15, 0.4), 1.0)


def bolt(rng: np.random.Generator, at: np.ndarray, angle: float) -> Mesh:
    """A hexagon bolt lying on its side."""
    r, length = rng.uniform(3, 5), rng.uniform(25, 50)
    axis = np.array([np.cos(angle), np.sin(angle), 0.0])
    a = at + np.array([0, 0, r * 1.7])
    tint = STEEL * rng.uniform(0.6, 1.0)
    shank = sleeve(a, a + axis * length, r, "threaded", tint, 0.35)
    return joined([shank, sleeve(a - axis * r * 1.3, a, r * 1.8, "hex", tint, 0.35)])


def block(rng: np.random.Generator, at: np.ndarray, angle: float) -> Mesh:
    """A box: notepad, case, battery pack."""
    size = np.array([rng.uniform(30, 110), rng.uniform(30, 90), rng.uniform(3, 30)])
    mesh = box(np.array([0, 0, size[2] / 2]), size, rng.uniform(0.03, 0.75, 3), 0.5, 0.0)
    c, s = np.cos(angle), np.sin(angle)
    return mesh.moved(np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]]), at)


def coil(rng: np.random.Generator, at: np.ndarray, angle: float) -> Mesh:
    """A loose bend of rope."""
    r = rng.uniform(3.5, 5.8)
    t = np.linspace(0, rng.uniform(1.5, 4.5), 60)
    big = rng.uniform(60, 140)
    path = np.c_[big * np.cos(t) - big, big * np.sin(t), np.full(60, r * 1.02)]
    c, s = np.cos(angle), np.sin(angle)
    return rope(rng, path @ np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]]).T + at, r)


CLUTTER: tuple[Callable[..., Mesh], ...] = (pen, ruler, washer, bolt, block, coil, coil, washer)


def sticker(image: np.ndarray, width: float, at: np.ndarray, angle: float, lift: float) -> Mesh:
    """A flat label showing an image (rows, cols, 3) of linear reflectance, upper row away."""
    rows, cols = image.shape[:2]
    x = (np.arange(cols) / (cols - 1) - 0.5) * width
    y = (0.5 - np.arange(rows) / (rows - 1)) * width * rows / cols
    xx, yy = np.meshgrid(x, y, indexing="xy")
    grid = np.stack([xx, yy, np.full_like(xx, lift)], -1)[::-1]
    mesh = from_grid(grid, False, image[::-1], 0.45, 0.0)
    c, s = np.cos(angle), np.sin(angle)
    return mesh.moved(np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]]), at)

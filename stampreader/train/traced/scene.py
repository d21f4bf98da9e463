"""Where a body lies, what lights it and where the phone is held: all that the tracer needs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

import cv2
import numpy as np

from stampreader.train.banks import benches
from stampreader.train.draw import MOST
from stampreader.train.traced.body import PITCH, Body, make_body

Array = np.ndarray

WIDE, HIGH = 640, 448
"""Size of a picture, pixels."""
VIEWS = 4
"""Pictures of one body: making it and its acceleration structure costs more than a picture."""
SKY = (128, 256)
"""Rows and columns of the surroundings; the first row is straight up."""
CAPS = (30.0, 0.42, 9.0, 90.0)
"""Cap heights in pixels: middle, spread of the logarithm, least, most."""
LINES = 24
"""Lines of text kept of a picture."""
SPOTS = 20
"""Places at which a glyph is looked at: on its strokes, along their edges, beside them."""


@dataclass
class View:
    """One photograph to be traced.

    Attributes:
        eye: (3, 4) world to camera: x right, y up, looking along −z.
        focal: focal length in pixels.
        sky: SKY float32 light from each direction.
        lamp: (6,) place, radius, strength and 1 for a lamp close by; zeros without.
        aperture: radius of the lens; `focus`: distance that is sharp.
        glyphs: (MOST, 10) rows as in `draw.Tile`, and the line each stands in, −1 for none.
        lines: (LINES, 10) of each line: a place, direction (cos, sin), rise (a, b, c of a parabola of
            pixels across by pixels along), cap height, and where along it begins and ends.
        spots: (MOST, 3, SPOTS, 2) places on a glyph's strokes, along their edges, and beside them.
        plate: (HIGH / 4, WIDE / 4) uint8, 255 where the stamped part is.
    """

    eye: Array
    focal: float
    sky: Array
    lamp: Array
    aperture: float
    focus: float
    glyphs: Array
    lines: Array
    spots: Array
    plate: Array


def make_scene(
    rng: np.random.Generator,
    faces: dict[str, Any],
    probes: Sequence[Array],
    cloths: Sequence[Array],
) -> tuple[Body, dict[str, Any], list[View]]:
    """A body, what lies about it, and its views."""
    body = make_body(rng, faces)
    around = _around(rng, body, cloths)
    return body, around, [_view(rng, body, probes) for _ in range(VIEWS)]


def some_cloths(rng: np.random.Generator, count: int = 160) -> list[Array]:
    """Pictures of what lies beneath, uint8."""
    return [(255 * b.clip(0, 1)).astype(np.uint8) for b in benches(rng, count)]


def _around(rng: np.random.Generator, body: Body, cloths: Sequence[Array]) -> dict[str, Any]:
    """The bench, other things on it, and how the metal's grain and coat are."""
    thick, half = body.form.thick, body.form.half
    away = 0.0 if rng.random() < 0.75 else float(rng.uniform(1, 40))
    tubes = []
    for _ in range(int(rng.choice([0, 1, 2, 4], p=[0.4, 0.25, 0.2, 0.15]))):
        turn, far = rng.uniform(0, 2 * np.pi), half * rng.uniform(2.4, 8)
        radius = half * float(np.exp(rng.uniform(-2.5, 0.1)))
        at = np.array([np.cos(turn) * far * 1.6, np.sin(turn) * far, radius - thick - away])
        a = rng.uniform(0, 2 * np.pi) + np.linspace(0, rng.uniform(1.5, 6), 24)
        size = half * rng.uniform(1.5, 6)
        ring = np.stack([size * np.cos(a), size * rng.uniform(0.3, 1) * np.sin(a), 0 * a], 1)
        tubes.append(
            np.concatenate([[[radius, *rng.uniform(0, 1, 3)]], [[*p, 0] for p in at + ring]])
        )
    return {
        "bench": cloths[int(rng.integers(len(cloths)))],
        "bench_at": np.array([-thick * 1.005 - away, half * rng.uniform(2, 14),
                              rng.uniform(0.15, 1), rng.uniform(0, 0.4)]),  # height, size, rough, bumps
        "tubes": np.array(tubes, np.float32).reshape(-1, 25, 4),
        "grain": np.array([rng.uniform(0, 0.9) if rng.random() < 0.5 else 0.0, rng.integers(3)]),
        "coat": np.array([rng.uniform(0.3, 1) if rng.random() < 0.2 else 0.0, rng.uniform(0.02, 0.3)]),
    }  # fmt: skip


def _view(rng: np.random.Generator, body: Body, probes: Sequence[Array]) -> View:
    """Aim at the stamp from somewhere above it."""
    aim_at = np.array([0.0, 0.0])
    if len(body.flat):
        roles = np.array([g[5] for g in body.sheet.glyphs])
        pool = (
            np.flatnonzero(roles > 0)
            if (roles > 0).any() and rng.random() < 0.75
            else np.arange(len(roles))
        )
        aim_at = body.flat[int(rng.choice(pool))]
    target, normal = body.form.place(aim_at), body.form.normal(aim_at)
    steep = min(abs(rng.normal(0, 0.38)), 1.0)
    backward = _tilted(rng, normal, steep)
    backward[2] = max(backward[2], 0.25)
    backward /= np.linalg.norm(backward)
    level = np.cross([0.0, 0.0, 1.0], backward)
    right = level / np.linalg.norm(level) if np.linalg.norm(level) > 1e-3 else np.array([1.0, 0, 0])
    up = np.cross(backward, right)
    roll = rng.uniform(0, 2 * np.pi)
    right, up = (np.cos(roll) * right + np.sin(roll) * up, np.cos(roll) * up - np.sin(roll) * right)
    middle, spread, least, most = CAPS
    cap = float(np.clip(middle * np.exp(rng.normal(0, spread)), least, most))
    focal = WIDE / 2 / math.tan(math.radians(rng.uniform(8, 30)) / 2)
    distance = focal / cap
    off = rng.uniform(-0.22, 0.22, 2) * (WIDE, HIGH) / cap
    eye = target + off[0] * right + off[1] * up + distance * backward
    turn = np.stack([right, up, backward])
    matrix = np.concatenate([turn, (-turn @ eye)[:, None]], 1)
    lamp = np.zeros(6)
    if rng.random() < 0.4:
        way, far = _tilted(rng, np.array([0.0, 0, 1.0]), rng.uniform(0, 1.35)), rng.uniform(8, 60)
        radius = float(np.exp(rng.uniform(math.log(0.15), math.log(6))))
        lamp[:] = [*(target + way * far), radius, np.exp(rng.uniform(0.0, 2.6)) * far**2, 1.0]
    blurred = rng.random() < 0.4
    view = View(
        eye=matrix, focal=focal, sky=make_sky(rng, probes, backward), lamp=lamp,
        aperture=distance * float(rng.uniform(0.003, 0.03)) if blurred else 0.0,
        focus=distance * float(np.exp(rng.normal(0, 0.01))),
        glyphs=np.zeros((MOST, 10), np.float32), lines=np.zeros((LINES, 10), np.float32),
        spots=np.zeros((MOST, 3, SPOTS, 2), np.float16), plate=np.zeros((HIGH // 4, WIDE // 4), np.uint8),
    )  # fmt: skip
    _label(rng, body, view)
    return view


def _tilted(rng: np.random.Generator, normal: Array, angle: float) -> Array:
    """A direction at an angle from another, anywhere round it."""
    side = np.cross(normal, rng.standard_normal(3))
    side /= max(float(np.linalg.norm(side)), 1e-6)
    return np.asarray(math.cos(angle) * normal + math.sin(angle) * side)


def make_sky(rng: np.random.Generator, probes: Sequence[Array], towards: Array) -> Array:
    """Light from each direction, z up: a photographed room or an invented one, lamps, the person."""
    v, u = np.mgrid[0.5 : SKY[0] : 1.0, 0.5 : SKY[1] : 1.0]
    down, round_ = v / SKY[0] * np.pi, (u / SKY[1] - 0.5) * 2 * np.pi
    way = np.stack([np.sin(down) * np.cos(round_), np.sin(down) * np.sin(round_), np.cos(down)], -1)
    if len(probes) and rng.random() < 0.55:
        sky = probes[int(rng.integers(len(probes)))].astype(np.float32)
        sky = np.roll(sky, int(rng.integers(SKY[1])), 1) * (0.5 + rng.random())
        sky = sky[:, ::-1] if rng.random() < 0.5 else sky
    else:
        lean = _tilted(rng, np.array([0.0, 0, 1]), rng.uniform(0, 1.5))
        ramp = way @ lean
        sky = rng.uniform(0.05, 0.5) + rng.uniform(0, 1.2) / (
            1 + np.exp(-ramp * rng.uniform(1, 30))
        )
    sky = sky.astype(np.float32).copy()
    for _ in range(int(rng.choice([0, 1, 2, 3, 5], p=[0.3, 0.3, 0.2, 0.1, 0.1]))):
        centre = _tilted(rng, np.array([0.0, 0, 1]), rng.uniform(0, 1.5))
        size = math.radians(float(np.exp(rng.uniform(math.log(1.2), math.log(28)))))
        if rng.random() < 0.5:  # a disc
            inside = way @ centre > math.cos(size)
        else:  # a window, a panel, a tube
            a = np.cross(centre, _tilted(rng, centre, 1.0))
            a /= np.linalg.norm(a)
            b = np.cross(centre, a)
            long = size * rng.uniform(1, 4)
            inside = (np.abs(way @ a) < math.sin(min(long, 1.3))) & (
                np.abs(way @ b) < math.sin(size)
            )
            inside &= way @ centre > 0
        sky[inside] += float(np.exp(rng.uniform(0.5, 4.5))) * min(1.0, 0.02 / size**2 + 0.1)
    if rng.random() < 0.55:  # who holds the phone
        dark = way @ towards > math.cos(rng.uniform(0.1, 0.5))
        sky[dark] *= rng.uniform(0.05, 0.6)
    return sky.astype(np.float32)


def project(view: View, points: Array) -> Array:
    """(…, 3) world → (…, 2) pixels, x right and y down from the middle of the first pixel."""
    seen = points @ view.eye[:, :3].T + view.eye[:, 3]
    far = np.maximum(-seen[..., 2:], 1e-6)
    return np.asarray(seen[..., :2] / far * [view.focal, -view.focal]
                      + [(WIDE - 1) / 2, (HIGH - 1) / 2])  # fmt: skip


def _label(rng: np.random.Generator, body: Body, view: View) -> None:
    """Fill the rows, lines, spots and plate of a view."""
    form, flat = body.form, body.flat
    rows, columns = body.mask.shape
    rim = np.stack([t.ravel() for t in np.meshgrid(
        body.corner[0] + np.linspace(0, columns - 1, 40) * PITCH,
        body.corner[1] - np.linspace(0, rows - 1, 8) * PITCH, indexing="ij")], -1)  # fmt: skip
    outline = project(view, form.place(rim)).reshape(40, 8, 2) / 4
    for i in range(39):
        quad = np.concatenate([outline[i], outline[i + 1][::-1]])
        cv2.fillPoly(view.plate, [np.round(quad).astype(np.int32)], 255)
    if not len(flat):
        return
    g = np.asarray(body.sheet.glyphs, float)
    cos, sin = math.cos(body.turn), math.sin(body.turn)
    along, upward = np.array([cos, sin]), np.array([-sin, cos])
    at = project(view, form.place(flat))
    tip, tail = (project(view, form.place(flat + k * along)) for k in (0.02, -0.02))
    top, foot = (project(view, form.place(flat + k * g[:, 3:4] / 2 * upward)) for k in (1, -1))
    way = tip - tail
    grow = np.hypot(*way.T) / 0.04
    way = way / np.maximum(np.hypot(*way.T), 1e-9)[:, None]
    tall = np.hypot(*(top - foot).T)
    cap = np.median(tall / g[:, 3])
    eye = -view.eye[:, :3].T @ view.eye[:, 3]
    ray = eye - form.place(flat)
    facing = (form.normal(flat) * ray).sum(1) / np.linalg.norm(ray, axis=1)
    inside = ((at > 1) & (at < [WIDE - 2, HIGH - 2])).all(1) & (facing > 0.22)
    w0, w1 = body.corner[1] - (rows - 1) * PITCH, body.corner[1]
    s0, s1 = body.corner[0], body.corner[0] + (columns - 1) * PITCH
    reach = g[:, 3] * 0.4
    inside &= (flat[:, 1] - reach > w0) & (flat[:, 1] + reach < w1)
    inside &= (flat[:, 0] - g[:, 4] * 0.4 > s0) & (flat[:, 0] + g[:, 4] * 0.4 < s1)
    inside &= tall > 0.4 * g[:, 3] * cap
    lines = _lines_of(g)
    keep = np.flatnonzero(inside)[:MOST]
    view.glyphs[: len(keep)] = np.stack(
        [g[:, 0], at[:, 0], at[:, 1], tall, g[:, 4] * grow, way[:, 0], way[:, 1], g[:, 5],
         np.ones(len(g)), lines], 1)[keep]  # fmt: skip
    view.glyphs[len(keep) :, 9] = -1
    for k, i in enumerate(keep):
        view.spots[k] = _spots(rng, body, view, flat[i], g[i, 3:5], along, upward)
    names = [n for n in np.unique(lines[keep]) if n >= 0][:LINES]
    renamed = np.full(MOST, -1.0)
    for k, name in enumerate(names):
        here = view.glyphs[:, 9] == name
        renamed[here] = k
        view.lines[k] = _course(view.glyphs[here & (view.glyphs[:, 8] > 0)])
    view.glyphs[:, 9] = renamed


def _lines_of(g: Array) -> Array:
    """(G,) number of the line of text each glyph of a sheet stands in: of like height above the foot."""
    order = np.argsort(-g[:, 3], kind="stable")
    middles: list[tuple[float, float]] = []
    out = np.full(len(g), -1.0)
    for i in order:
        near = [
            (abs(g[i, 2] - y), k)
            for k, (y, h) in enumerate(middles)
            if abs(g[i, 2] - y) < 0.42 * max(h, g[i, 3])
        ]
        if near:
            out[i] = min(near)[1]
        else:
            out[i] = len(middles)
            middles.append((float(g[i, 2]), float(g[i, 3])))
    return out


def _course(rows: Array) -> Array:
    """(10,) the curve of one line's glyphs in the picture."""
    big = rows[rows[:, 3] >= 0.6 * rows[:, 3].max()]
    cap = float(np.median(big[:, 3]))
    way = rows[:, 5:7].mean(0)
    way = way / max(float(np.linalg.norm(way)), 1e-6)
    origin = big[:, 1:3].mean(0)
    away = big[:, 1:3] - origin
    u, v = away @ way, away @ [-way[1], way[0]]
    power = (
        2 if len(u) > 5 and np.ptp(u) > 5 * cap else 1 if len(u) > 2 and np.ptp(u) > 2 * cap else 0
    )
    rise = np.zeros(3)
    rise[2 - power :] = np.polyfit(u, v, power)
    ends = (rows[:, 1:3] - origin) @ way
    return np.array([*origin, *way, *rise, cap, ends.min(), ends.max()], np.float32)


def _spots(
    rng: np.random.Generator,
    body: Body,
    view: View,
    middle: Array,
    size: Array,
    along: Array,
    upward: Array,
) -> Array:
    """(3, SPOTS, 2) pixels on the strokes of a glyph, along their edges, and beside them."""
    p = rng.uniform(-0.62, 0.62, (400, 2)) * size[::-1]
    flat = middle + p[:, :1] * along + p[:, 1:] * upward
    column = np.round((flat[:, 0] - body.corner[0]) / PITCH).astype(int)
    row = np.round((body.corner[1] - flat[:, 1]) / PITCH).astype(int)
    there = (
        (row > 2)
        & (column > 2)
        & (row < body.mask.shape[0] - 3)
        & (column < body.mask.shape[1] - 3)
    )
    flat, row, column = flat[there], row[there], column[there]
    if not len(flat):
        return np.zeros((3, SPOTS, 2))
    near = np.stack([body.mask[row + a, column + b] for a in (-2, 0, 2) for b in (-2, 0, 2)])
    on, edge = near[4] > 0.6, near.max(0) - near.min(0) > 0.5
    beside = near.max(0) < 0.1
    at = project(view, body.form.place(flat))
    out = np.full((3, SPOTS, 2), -1.0)
    for k, which in enumerate((on & ~edge if (on & ~edge).any() else on, edge, beside)):
        found = np.flatnonzero(which)
        if len(found):
            out[k] = at[np.resize(found, SPOTS)]
    return out


def save(path: Path | IO[bytes], body: Body, around: dict[str, Any], views: Sequence[View]) -> None:
    """One scene in one file, for `blender.py`."""
    fields = {
        f.name: np.stack([np.asarray(getattr(v, f.name)) for v in views])
        for f in View.__dataclass_fields__.values()
    }
    np.savez(path, points=body.points, base=body.base.astype(np.float16),
             rough=body.rough.astype(np.float16), metal=body.metal.astype(np.float16),
             **around, **fields)  # fmt: skip

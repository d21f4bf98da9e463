"""The bar of a connector with a stamp in it, as a fine grid of points.

Lengths are in cap heights of the figures. The flat coordinates (s, t) run along the bar and across
it, to the left of s; x, y, z are the world's, z pointing away from the bench.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np

from stampreader.train.draw import OVER, paint_sheet, sometimes_hollow
from stampreader.train.layout import random_sheet
from stampreader.train.sheet import Sheet

Array = np.ndarray

PITCH = 1 / 36
"""Distance of the grid's points where the stamp lies."""
LONGEST, WIDEST = 30.0, 15.0
"""Longest and widest part of a stamp that is made."""
FADING = 54
"""Points over which the metal's grain ends towards the coarse part."""
FEW = 26
"""Points across the unmarked sides and the back."""


@dataclass
class Body:
    """A stamped bar.

    Attributes:
        points: (ns, nt, 3) float32, closed across.
        base, rough, metal: (ns, nt) float32: reflectance, roughness and metalness at each point.
        sheet: what is written on it.
        flat: (G, 2) middle of each glyph in flat coordinates, and `turn`, the direction of its text.
        mask: (rows, columns) float32, 0 to 1, where the tool was; `corner` is the flat place of the
            first row and column, rows running down t and columns up s, `PITCH` apart.
        form: the shape that places flat coordinates in the world.
    """

    points: Array
    base: Array
    rough: Array
    metal: Array
    sheet: Sheet
    flat: Array
    turn: float
    mask: Array
    corner: tuple[float, float]
    form: Form


@dataclass(frozen=True)
class Form:
    """How a flat place becomes one in the world.

    Attributes:
        half, thick: half width and half height of the section.
        power, round_off: superellipse of the section, and of its upper rim.
        panel, edge, steep: a face sunk between two flanges: how deep, how wide, how sharply.
        wrapped: text goes round the bar with its surface and not straight down on it.
        s, course: (k,) and (k, 3): x, y and heading along the middle line.
    """

    half: float
    thick: float
    power: float
    round_off: float
    panel: float
    edge: float
    steep: float
    wrapped: bool
    s: Array
    course: Array

    def across(self, t: Array) -> Array:
        """Distance from the middle line, seen from above, of places t on the surface."""
        return self.half * np.sin(np.clip(t / self.half, -1.5, 1.5)) if self.wrapped else t

    def height(self, w: Array) -> Array:
        """Height of the upper face at a distance from the middle line."""
        u = np.abs(w / self.half).clip(0, 0.9999)
        dome = (1 - u**self.power) ** (1 / self.round_off)
        step = 1 / (1 + np.exp(np.clip((u - self.edge) * self.steep, -40, 40)))
        return np.asarray(self.thick * (dome - self.panel * step))

    def lean(self, w: Array) -> tuple[Array, Array]:
        """Unit normal of the upper face: its parts across the bar and upwards."""
        slope = (self.height(w + 0.01) - self.height(w - 0.01)) / 0.02
        slope = np.clip(slope, -4, 4)
        long = np.sqrt(1 + slope**2)
        return -slope / long, 1 / long

    def world(self, s: Array, w: Array, z: Array) -> Array:
        """(…, 3) of distances along and from the middle line, and heights."""
        x, y, heading = (np.interp(s, self.s, self.course[:, k]) for k in range(3))
        return np.stack([x - np.sin(heading) * w, y + np.cos(heading) * w, z + 0 * w], -1)

    def place(self, flat: Array) -> Array:
        """(…, 3) on the unmarked face."""
        w = self.across(flat[..., 1])
        return self.world(flat[..., 0], w, self.height(w))

    def normal(self, flat: Array) -> Array:
        """(…, 3) unit normals there."""
        out, up = self.lean(self.across(flat[..., 1]))
        heading = np.interp(flat[..., 0], self.s, self.course[:, 2])
        return np.stack([-np.sin(heading) * out, np.cos(heading) * out, up], -1)


def make_body(rng: np.random.Generator, faces: dict[str, Any]) -> Body:
    """A random stamp on a random bar."""
    sheet = random_sheet(rng, faces)
    turn = math.pi / 2 * float(rng.choice([-1, 1])) if sheet.ladder else 0.0
    middle = _middle(rng, sheet)

    def to_flat(points: Array) -> Array:
        away = points - middle
        cos, sin = math.cos(turn), math.sin(turn)
        return np.stack(
            [away[:, 0] * cos - away[:, 1] * sin, away[:, 0] * sin + away[:, 1] * cos], 1
        )

    flat = to_flat(np.array([g[1:3] for g in sheet.glyphs]).reshape(-1, 2))
    drawn = [to_flat(shape.points) for shape in sheet.shapes] or [np.zeros((1, 2))]
    every = np.concatenate(drawn)
    every = every[np.isfinite(every[:, 0])]
    low = np.maximum(every.min(0), (-LONGEST / 2, -WIDEST / 2))
    high = np.minimum(every.max(0), (LONGEST / 2, WIDEST / 2))
    form = _form(rng, low, high)
    rim = (1.25 if form.wrapped else 0.96) * form.half
    low[1], high[1] = max(-WIDEST / 2, -rim), min(WIDEST / 2, rim)
    low[0], high[0] = low[0] - rng.uniform(2.5, 6), high[0] + rng.uniform(2.5, 6)
    columns, rows = (np.round((high - low) / PITCH).astype(int) + 1).tolist()
    corner = (float(low[0]), float(high[1]))

    def to_mask(points: Array) -> Array:
        at = to_flat(points)
        return np.stack([(at[:, 0] - corner[0]) / PITCH, (corner[1] - at[:, 1]) / PITCH], 1)

    mask = np.zeros((rows * OVER, columns * OVER), np.uint8)
    paint_sheet(mask, sheet, to_mask, 1 / PITCH)
    mask = sometimes_hollow(rng, mask, 1 / PITCH)
    mask = cv2.resize(mask, (columns, rows), interpolation=cv2.INTER_AREA).astype(np.float32) / 255
    points, looks = _grid(rng, form, corner, _work(rng, mask))
    return Body(points, *looks, sheet, flat, turn, mask, corner, form)


def _middle(rng: np.random.Generator, sheet: Sheet) -> Array:
    """The place of the sheet that comes to the middle of the bar: now and then not its own middle."""
    if not sheet.glyphs:
        return np.zeros(2)
    g = np.array([g[1:3] for g in sheet.glyphs])
    middle = (g.min(0) + g.max(0)) / 2
    strong = np.array([g[1:3] for g in sheet.glyphs if g[5] > 0])
    if len(strong) and np.ptp(g[:, 0]) > LONGEST - 4:
        middle[0] = strong[int(rng.integers(len(strong))), 0]
    return np.asarray(middle + rng.normal(0, 0.12, 2))


def _form(rng: np.random.Generator, low: Array, high: Array) -> Form:
    """A section wide enough for the text, on a middle line that bends away beyond both ends."""
    reach = float(np.abs([low[1], high[1]]).max())
    half = float(rng.uniform(0.8, 3.0) if rng.random() < 0.8 else rng.uniform(3, 12))
    half = max(half, (reach + 0.1) * float(rng.uniform(1.05, 1.5)))
    power = float(np.exp(rng.uniform(math.log(1.9), math.log(9))))
    wrapped = bool(power < 3 and rng.random() < 0.6)
    curve = float(rng.normal(0, 1 / 14)) if rng.random() < 0.4 else 0.0
    curve = float(np.clip(curve, -0.4 / half, 0.4 / half))
    s = np.arange(low[0] - 26, high[0] + 26, 0.1)
    bend = np.full(len(s), curve)
    side = float(rng.choice([-1, 1]))
    for beyond in (low[0] - s, s - high[0]):
        if rng.random() < 0.75:
            begin, radius = rng.uniform(0.3, 6), half * rng.uniform(1.4, 5)
            turned = (beyond > begin) & (beyond < begin + radius * rng.uniform(1, 2.6))
            bend[turned] = side / radius
    heading = np.cumsum(bend) * 0.1
    heading -= np.interp(0.0, s, heading)
    x, y = np.cumsum(np.cos(heading)) * 0.1, np.cumsum(np.sin(heading)) * 0.1
    course = np.stack([x - np.interp(0, s, x), y - np.interp(0, s, y), heading], 1)
    return Form(
        half=half, thick=half * float(np.exp(rng.uniform(math.log(0.25), math.log(1.1)))),
        power=power, round_off=min(power, 2.4),
        panel=float(rng.uniform(0.03, 0.22)) if rng.random() < 0.2 else 0.0,
        edge=float(rng.uniform(0.6, 0.85)), steep=float(np.exp(rng.uniform(2.5, 4))),
        wrapped=wrapped, s=s, course=course,
    )  # fmt: skip


@dataclass
class Work:
    """What tool, wear and making left where the stamp lies: heights in cap heights, else shares."""

    height: Array
    tone: Array  # −1 darkest to 1 brightest: laser, ink
    floor: Array  # where dirt gathers


def _soft(picture: Array, sigma: float) -> Array:
    return np.asarray(cv2.GaussianBlur(picture, (0, 0), max(sigma / PITCH, 0.3)))


def noise(rng: np.random.Generator, shape: tuple[int, int], along: float, across: float) -> Array:
    """(rows, columns) smooth noise, mean 0 and spread 1, of the given lengths in cap heights."""
    sigma = (max(along / PITCH, 0.3), max(across / PITCH, 0.3))
    shrink = [max(1, int(v / 3)) for v in sigma]
    size = (math.ceil(shape[0] / shrink[1]) + 2, math.ceil(shape[1] / shrink[0]) + 2)
    small = rng.standard_normal(size).astype(np.float32)
    small = cv2.GaussianBlur(small, (0, 0), sigma[0] / shrink[0], sigmaY=sigma[1] / shrink[1])
    small /= max(float(small.std()), 1e-6)
    return np.asarray(cv2.resize(small, shape[::-1], interpolation=cv2.INTER_CUBIC))


def _between(rng: np.random.Generator, low: float, high: float) -> float:
    """A number even in the logarithm."""
    return float(np.exp(rng.uniform(math.log(low), math.log(high))))


def _work(rng: np.random.Generator, mask: Array) -> Work:
    """Cut, raised or lasered, fresh or worn."""
    kind = rng.choice(["cut", "stamped", "raised", "laser"], p=[0.28, 0.26, 0.16, 0.3])
    depth = _between(rng, 0.02, 0.17)
    soft = _soft(mask, _between(rng, 0.012, 0.06))
    fade = np.ones_like(mask)
    if rng.random() < 0.3:  # worn off in places
        fade -= rng.uniform(0.2, 0.95) / (
            1 + np.exp(-2.5 * (noise(rng, mask.shape, 1.5, 1.5) + rng.normal(0, 0.5)))
        )
    zero = np.zeros_like(mask)
    if kind == "laser":
        tone = float(rng.choice([-1, 1], p=[0.62, 0.38])) * _between(rng, 0.2, 1.0) * soft * fade
        lines = 1.0
        if rng.random() < 0.3:  # the beam's hatching
            step = rng.uniform(2, 6)
            lines = 0.8 + 0.2 * np.sin(np.arange(len(mask)) * 2 * np.pi / step)[:, None]
        burnt = -0.012 * rng.random() * soft if rng.random() < 0.4 else zero
        return Work(burnt.astype(np.float32), (tone * lines).astype(np.float32), zero)
    if kind == "cut" and mask.any():  # a round or pointed cutter: deeper where the stroke is wide
        inside = cv2.distanceTransform((mask > 0.5).astype(np.uint8), cv2.DIST_L2, 3) * PITCH
        profile = np.minimum(inside * rng.uniform(0.8, 2.5) / depth, 1) * soft
    else:
        wide = _soft(mask, rng.uniform(0.06, 0.14))
        burr = rng.uniform(0.1, 0.9) if rng.random() < 0.45 and kind == "stamped" else 0.0
        profile = soft - burr * np.clip(wide - soft, 0, None)
    sign = 1 if kind == "raised" else -1
    if rng.random() < 0.3:  # struck aslant: one side deeper
        ramp = np.linspace(-1, 1, mask.shape[1])[None] * rng.normal(0, 0.5)
        ramp = ramp + np.linspace(-1, 1, mask.shape[0])[:, None] * rng.normal(0, 0.5)
        profile = profile * np.clip(1 + ramp, 0.1, 1.6)
    height = sign * depth * profile * fade
    inked = rng.uniform(0.2, 0.9) if sign < 0 and rng.random() < 0.2 else 0.0
    return Work(height.astype(np.float32), -(inked * soft * fade).astype(np.float32),
                (soft * fade if sign < 0 else _soft(mask, 0.12) - mask).clip(0, 1))  # fmt: skip


def _finish(rng: np.random.Generator, shape: tuple[int, int]) -> Array:
    """Heights of the bare metal: brushed, cast, scratched, hammered by use."""
    out = np.zeros(shape, np.float32)
    if rng.random() < 0.55:
        along = _between(rng, 0.3, 8)
        grain = (
            noise(rng, shape, along, 0.02)
            if rng.random() < 0.75
            else noise(rng, shape, 0.02, along)
        )
        out += _between(rng, 0.0004, 0.006) * grain
    if rng.random() < 0.45:
        size = _between(rng, 0.03, 0.35)
        out += _between(rng, 0.0004, 0.016) * min(size * 3, 1) * noise(rng, shape, size, size)
    if rng.random() < 0.6:
        drawn = np.zeros(shape, np.float32)
        for _ in range(int(np.exp(rng.uniform(0, 3.6)))):
            begin = rng.uniform(0, 1, 2) * shape[::-1]
            turn, long = rng.uniform(0, 2 * np.pi), _between(rng, 0.2, 8) / PITCH
            end = begin + long * np.array([np.cos(turn), np.sin(turn)])
            cv2.line(drawn, begin.astype(int).tolist(), end.astype(int).tolist(),
                     float(rng.uniform(0.2, 1)), int(rng.integers(1, 4)), cv2.LINE_AA)  # fmt: skip
        out -= _between(rng, 0.003, 0.04) * cv2.GaussianBlur(drawn, (0, 0), rng.uniform(0.6, 1.5))
    if rng.random() < 0.3:
        for _ in range(int(rng.integers(1, 25))):  # dents
            x, y = (rng.uniform(0, 1, 2) * shape[::-1]).astype(int)
            r = int(_between(rng, 2, 26))
            cut = out[max(y - 3 * r, 0) : y + 3 * r, max(x - 3 * r, 0) : x + 3 * r]
            gy, gx = np.mgrid[: cut.shape[0], : cut.shape[1]]
            gy, gx = gy + max(y - 3 * r, 0) - y, gx + max(x - 3 * r, 0) - x
            cut -= (rng.uniform(0.05, 0.3) * r * PITCH * np.exp(-(gx**2 + gy**2) / (r * r))).astype(
                np.float32
            )
    return out


def _looks(
    rng: np.random.Generator, work: Work, shape: tuple[int, int]
) -> tuple[Array, Array, Array]:
    """Reflectance, roughness and metalness at the points of the window."""
    base, rough = _between(rng, 0.1, 0.95), 0.05 + 0.6 * float(rng.random()) ** 1.4
    coated = rng.random() < 0.22  # paint or a dark anodic layer
    metal = np.full(shape, 0.0 if coated and rng.random() < 0.5 else 1.0, np.float32)
    cloud = noise(rng, shape, 0.8, 0.8)
    tone = base * (1 + 0.1 * cloud * (rng.random() < 0.5))
    rougher = rough + 0.08 * cloud * (rng.random() < 0.5)
    lit, dark = np.clip(work.tone, 0, 1), np.clip(-work.tone, 0, 1)
    white, black = rng.uniform(0.45, 1.0), base * rng.uniform(0.05, 0.45)
    tone = tone + lit * (white - tone) + dark * (black - tone)
    mark = np.abs(work.tone)
    rougher = rougher + mark * (rng.uniform(0.2, 0.9) - rougher) * rng.uniform(0.2, 1)
    metal = metal * (1 - mark * (rng.random() < 0.4) * rng.uniform(0.3, 1))
    if rng.random() < 0.3:  # dirt in the letters
        dirt = work.floor * rng.uniform(0.3, 1) / (1 + np.exp(-3 * noise(rng, shape, 1, 1) - 1))
        tone, metal = tone + dirt * (rng.uniform(0.02, 0.2) - tone), metal * (1 - dirt)
        rougher = rougher + dirt * (0.8 - rougher)
    if rng.random() < 0.3:  # rubbed bright
        worn = 1 / (1 + np.exp(-6 * (noise(rng, shape, 0.9, 0.9) - rng.uniform(0.3, 2.5))))
        tone = tone + worn * (rng.uniform(0.5, 0.95) - tone)
        rougher = rougher + worn * (rng.uniform(0.05, 0.35) - rougher)
        metal = metal + worn * (1 - metal)
    return tone.clip(0.01, 1.0), rougher.clip(0.03, 1.0), metal.clip(0, 1)


def _grid(
    rng: np.random.Generator, form: Form, corner: tuple[float, float], work: Work
) -> tuple[Array, list[Array]]:
    """The closed grid, fine where the stamp lies and coarse elsewhere: points, and how they look."""
    rows, columns = work.height.shape
    s_in = corner[0] + np.arange(columns) * PITCH
    t_in = corner[1] - np.arange(rows) * PITCH
    gap = np.cumsum(np.concatenate([np.geomspace(PITCH, 0.22, 14), np.full(84, 0.22)]))
    s = np.concatenate([s_in[0] - gap[::-1], s_in, s_in[-1] + gap])
    w_in = form.across(t_in)
    angle_of = lambda w: np.arcsin(np.clip(w / form.half, -1, 1))  # noqa: E731
    top, foot = angle_of(w_in[0]), angle_of(w_in[-1])
    upper = form.half * np.sin(np.linspace(np.pi / 2 - 1e-3, top, FEW, endpoint=False))
    lower = form.half * np.sin(np.linspace(foot, -np.pi / 2 + 1e-3, FEW + 1)[1:])
    w_top = np.concatenate([upper, w_in, lower])
    w_back = form.half * np.sin(np.linspace(-np.pi / 2 + 0.02, np.pi / 2 - 0.02, FEW))
    z_top, z_back = (
        form.height(w_top),
        -form.thick
        * (1 - np.abs(w_back / form.half) ** form.power).clip(0) ** (1 / form.round_off),
    )
    out, up = form.lean(w_top)
    count = len(w_top) + len(w_back)
    deep = np.zeros((len(s), count), np.float32)
    inner = np.s_[len(gap) : len(gap) + columns, FEW : FEW + rows]
    ends = np.minimum(np.arange(columns), np.arange(columns)[::-1]).clip(0, FADING) / FADING
    rims = np.minimum(np.arange(rows), np.arange(rows)[::-1]).clip(0, 8) / 8
    fade = (ends**2 * (3 - 2 * ends))[None] * rims[:, None]
    deep[inner] = ((work.height + _finish(rng, work.height.shape)) * fade).T
    w = np.concatenate([w_top, w_back])[None] + deep * np.concatenate([out, 0 * w_back])[None]
    z = np.concatenate([z_top, z_back])[None] + deep * np.concatenate([up, 0 * w_back])[None]
    points = form.world(np.repeat(s[:, None], count, 1), w, z).astype(np.float32)
    looks = []
    for inside in _looks(rng, work, work.height.shape):
        middle = float(np.median(inside))
        whole = np.full(deep.shape, middle, np.float32)
        whole[inner] = (middle + (inside - middle) * fade).T
        looks.append(whole)
    return points, looks

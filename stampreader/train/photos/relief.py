"""Turns a layout into metal: a height map, a laser mask, wear and what sticks in the grooves.

Maps are arrays over the strip, row 0 at its upper edge (+y), `px` cells a millimetre; heights in
millimetres, positive outwards.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from .faces import STROKE, Face
from .layout import Placed, Strip

SHIFT = 6  # sub-pixel bits of OpenCV's drawing


@dataclass
class Maps:
    """Surface of the strip: height (mm), laser (0 to 1), dirt and bare metal (0 to 1)."""

    height: np.ndarray
    laser: np.ndarray
    dirt: np.ndarray
    bare: np.ndarray
    rough: np.ndarray
    px: float


@dataclass(frozen=True)
class Method:
    """How a stamp was made and how far it has gone.

    Attributes:
        name: laser, engraved, stamped, raised or dot-peen.
        depth: mm (laser: contrast 0 to 1).
        edge: softness of the edges, mm.
        stroke: line width of pictograms, in cap heights.
        wear: 0 new to 1 gone; loss: share of the area rubbed away unevenly.
    """

    name: str
    depth: float
    edge: float
    stroke: float
    wear: float
    loss: float
    scratches: int
    dirt: float
    embolden: float = 0.0


def noise(rng: np.random.Generator, shape: tuple[int, int], cell: float) -> np.ndarray:
    """Smooth noise, about unit variance, features of `cell` pixels."""
    small = (max(2, int(shape[0] / cell) + 2), max(2, int(shape[1] / cell) + 2))
    coarse = rng.standard_normal(small).astype(np.float32)
    return cv2.resize(coarse, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)


def _turn(points: np.ndarray, g: Placed, at: tuple[float, float], turn: float) -> np.ndarray:
    a = np.radians(g.angle + turn)
    rot = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    return points @ rot + np.array(at)


def glyph_lines(g: Placed, face: Face) -> list[np.ndarray]:
    """Outline points of a glyph in strip mm (for characters, closed; for pictograms, strokes)."""
    if g.char == "<ring>":
        t = np.linspace(0, 2 * np.pi, 48)
        local = [np.c_[np.cos(t), np.sin(t)] * g.w / 2]
    elif g.drawing is not None:
        d = g.drawing
        local = [np.array(p, float) for p in (*d.strokes, *d.fills, *d.cuts)]
    else:
        contours, _ = face.outline(g.char)
        local = [(c - _middle(contours)) * g.cap * np.array([g.scale, 1.0]) for c in contours]
    return [_turn(p, g, (g.x, g.y), 0.0) for p in local]


def _middle(contours: list[np.ndarray]) -> np.ndarray:
    ink = np.concatenate(contours)
    return np.array([(ink[:, 0].min() + ink[:, 0].max()) / 2, 0.5])


class Raster:
    """Draws a strip into a mask."""

    def __init__(self, size: tuple[float, float], px: float) -> None:
        self.px = px
        self.shape = (int(size[1] * px), int(size[0] * px))

    def cells(self, points: np.ndarray) -> np.ndarray:
        """Strip mm to sub-pixel coordinates of OpenCV."""
        x = points[:, 0] * self.px + self.shape[1] / 2 - 0.5
        y = -points[:, 1] * self.px + self.shape[0] / 2 - 0.5
        return np.round(np.c_[x, y] * (1 << SHIFT)).astype(np.int32)

    def draw(self, g: Placed, lines: list[np.ndarray], width: float) -> np.ndarray:
        """Mask of one glyph, uint8."""
        mask = np.zeros(self.shape, np.uint8)
        thick = max(1, round(width * self.px))
        if g.drawing is None and g.char != "<ring>":
            cv2.fillPoly(mask, [self.cells(p) for p in lines], 255, cv2.LINE_AA, SHIFT)
            return mask
        n, m = (1, 1) if g.drawing is None else (len(g.drawing.strokes), len(g.drawing.fills) + 1)
        m = len(lines) if g.drawing is None else n + m - 1
        for p in lines[:n]:
            cv2.polylines(mask, [self.cells(p)], False, 255, thick, cv2.LINE_AA, SHIFT)
        for p in lines[n:m]:
            cv2.fillPoly(mask, [self.cells(p)], 255, cv2.LINE_AA, SHIFT)
        for p in lines[m:]:
            cv2.fillPoly(mask, [self.cells(p)], 0, cv2.LINE_AA, SHIFT)
        return mask


def stamp_mask(
    strip: Strip,
    face: Face,
    method: Method,
    raster: Raster,
    jitter: float,
    rng: np.random.Generator,
) -> np.ndarray:
    """Mask of the whole stamp, float 0 to 1; struck glyphs differ a little in force and place."""
    out = np.zeros(raster.shape, np.float32)
    thin = face.name.split("|")[0] in STROKE
    for g in strip.glyphs:
        at = rng.normal(0, jitter * g.cap * 0.5, 2) if jitter else np.zeros(2)
        g.x, g.y = g.x + float(at[0]), g.y + float(at[1])
        g.angle += float(rng.normal(0, jitter * 25)) if jitter else 0.0
        mask = raster.draw(g, glyph_lines(g, face), method.stroke * g.cap)
        grow = method.embolden + (0.05 if thin and g.drawing is None else 0.0)
        if grow > 0:
            r = max(1, round(grow * g.cap * raster.px))
            mask = cv2.dilate(mask, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (r + 1, r + 1)))
        force = float(rng.uniform(0.7, 1.0)) if jitter else 1.0
        out = np.maximum(out, mask.astype(np.float32) * (force / 255))
    return out


def peen_dots(mask: np.ndarray, pitch: float, rng: np.random.Generator) -> np.ndarray:
    """Mask of peened dots along the middle of the strokes, `pitch` cells apart."""
    inside = cv2.distanceTransform((mask > 0.5).astype(np.uint8), cv2.DIST_L2, 5)
    size = max(3, int(pitch) | 1)
    ridge = (inside > 0) & (inside >= 0.8 * cv2.dilate(inside, np.ones((size, size))))
    ys, xs = np.nonzero(ridge)
    order = np.lexsort((xs, (ys / pitch).astype(int)))
    taken = np.zeros(mask.shape, np.uint8)
    dots = np.zeros(mask.shape, np.float32)
    radius = pitch * 0.45
    for k in order:
        if not taken[ys[k], xs[k]]:
            centre = (int(xs[k]), int(ys[k]))
            cv2.circle(taken, centre, int(pitch * 0.95), 1, -1)
            at = (int(xs[k] * 16 + rng.normal(0, 4)), int(ys[k] * 16 + rng.normal(0, 4)))
            strength = float(rng.uniform(0.75, 1.0))
            cv2.circle(dots, at, max(16, int(radius * 16)), strength, -1, cv2.LINE_AA, 4)
    return dots


def relief(mask: np.ndarray, method: Method, px: float, rng: np.random.Generator) -> np.ndarray:
    """Height of the stamp alone, mm."""
    soft = max(method.edge * px, 0.6)
    if method.name == "engraved":
        inside = cv2.distanceTransform((mask > 0.5).astype(np.uint8), cv2.DIST_L2, 5)
        vee = np.clip(inside / (0.11 * px), 0, 1)
        return -method.depth * cv2.GaussianBlur(vee.astype(np.float32), (0, 0), soft)
    if method.name == "raised":
        return method.depth * cv2.GaussianBlur(mask, (0, 0), soft * 1.6)
    if method.name == "dot-peen":
        return -method.depth * cv2.GaussianBlur(mask, (0, 0), soft)
    if method.name == "stamped":
        floor = cv2.GaussianBlur(mask, (0, 0), soft)
        burr = cv2.GaussianBlur(mask, (0, 0), soft * 3.2)
        return -method.depth * (floor * 1.12 - burr * 0.22)
    return -0.004 * mask


def scratch_field(
    rng: np.random.Generator, shape: tuple[int, int], px: float, count: int, along: bool
) -> np.ndarray:
    """Fine scratches, 0 to 1; long ones follow the direction of use."""
    out = np.zeros(shape, np.uint8)
    for _ in range(count):
        length = float(rng.lognormal(np.log(5), 0.8)) * px
        a = rng.normal(0, 0.35) if along and rng.random() < 0.7 else rng.uniform(0, np.pi)
        x, y = rng.uniform(0, shape[1]), rng.uniform(0, shape[0])
        bend = rng.normal(0, 0.08)
        t = np.linspace(-0.5, 0.5, 9)
        pts = np.c_[
            x + length * t * np.cos(a) - bend * length * t**2 * np.sin(a),
            y + length * t * np.sin(a) + bend * length * t**2 * np.cos(a),
        ]
        level = int(rng.integers(60, 255))
        thick = 1 if rng.random() < 0.85 else max(1, int(0.1 * px))
        cv2.polylines(
            out, [np.round(pts * 16).astype(np.int32)], False, level, thick, cv2.LINE_AA, 4
        )
    return out.astype(np.float32) / 255


def make_maps(
    strip: Strip | None,
    face: Face,
    method: Method,
    size: tuple[float, float],
    px: float,
    jitter: float,
    rng: np.random.Generator,
) -> Maps:
    """Everything on the strip's surface, worn as the method says."""
    raster = Raster(size, px)
    shape = raster.shape
    mask = np.zeros(shape, np.float32)
    if strip is not None:
        mask = stamp_mask(strip, face, method, raster, jitter, rng)
        if method.name == "dot-peen":
            mask = peen_dots(mask, max(3.0, strip.cap * px / float(rng.uniform(7, 10))), rng)
    keep = np.clip((noise(rng, shape, 5 * px) - _quantile(method.loss)) * 1.6 + 0.5, 0, 1)
    keep = np.maximum(keep, 1.0 if method.loss <= 0 else 0.0) * (1 - method.wear)
    height = relief(mask, method, px, rng) * keep
    scratches = scratch_field(rng, shape, px, method.scratches, True)
    height -= scratches * float(rng.uniform(0.004, 0.02))
    laser = mask * keep * method.depth * (1 - 0.7 * scratches) if method.name == "laser" else 0
    grain = 1 + 0.12 * rng.standard_normal(shape).astype(np.float32)
    laser = np.clip(laser * grain, 0, 1).astype(np.float32) + np.zeros(shape, np.float32)
    dirt = _grooves(height, px) * method.dirt * np.clip(0.8 + 0.4 * noise(rng, shape, 2 * px), 0, 1)
    dirt = np.maximum(dirt, np.clip(noise(rng, shape, 3 * px) - 1.4, 0, 1) * method.dirt * 0.6)
    bare = np.clip(scratches * 1.2 + _ridges(height, px) * (0.3 + method.wear), 0, 1)
    return Maps(height, laser, np.clip(dirt, 0, 1), bare, scratches, px)


def _quantile(share: float) -> float:
    """Level of unit normal noise below which a share of the area lies."""
    return float(np.sqrt(2) * _erfinv(2 * min(max(share, 1e-3), 0.95) - 1))


def _erfinv(x: float) -> float:
    a = 0.147
    log = np.log(1 - x * x)
    first = 2 / (np.pi * a) + log / 2
    return float(np.sign(x) * np.sqrt(np.sqrt(first**2 - log / a) - first))


def _grooves(height: np.ndarray, px: float) -> np.ndarray:
    return np.clip((cv2.GaussianBlur(height, (0, 0), 0.35 * px) - height) / 0.05, 0, 1)


def _ridges(height: np.ndarray, px: float) -> np.ndarray:
    return np.clip((height - cv2.GaussianBlur(height, (0, 0), 0.25 * px)) / 0.04, 0, 1)

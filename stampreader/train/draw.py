"""Stamps on tiles: warps a layout into a tile, draws its mask and writes its labels."""

from __future__ import annotations

import lzma
import math
import pickle
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from stampreader.train.layout import random_line, random_sheet
from stampreader.train.sheet import Sheet

TILE = 384  # pixels of a drawn tile
OVER = 2  # drawn larger by this and shrunk, for soft edges
MOST = 112  # glyph rows kept a tile
SMALL, USUAL, LARGE = 11.0, 29.0, 64.0  # cap heights drawn, pixels: the detector is shown 30

HOLLOW = 0.06  # share of tiles with outline type


@dataclass
class Tile:
    """A drawn stamp.

    Attributes:
        mask: (TILE, TILE) uint8, 255 where a tool, laser or punch touched the metal.
        glyphs: (MOST, 9) float32: class, x, y, height, width, cos, sin of the reading direction,
            role, 1 for a real row.
        frame: (12,) float32: 3×3 homography from the spine's frame (pixels along and across) to
            the tile, curvature (1/pixel), half width of the spine (pixels), cap height (pixels).
    """

    mask: np.ndarray
    glyphs: np.ndarray
    frame: np.ndarray


def load_faces(path: Path) -> dict[str, Any]:
    """Faces baked by `stampreader.train.faces`, with their names listed."""
    faces: dict[str, Any] = pickle.loads(lzma.decompress(path.read_bytes()))
    faces["names"] = {kind: sorted(faces[kind]) for kind in ("outline", "stroke")}
    return faces


def bend(points: np.ndarray, curvature: float, half_width: float) -> np.ndarray:
    """Spine frame → flat picture: round a rod across, along an arc of the given curvature."""
    s, t = points[:, 0], points[:, 1]
    t = half_width * np.sin(np.clip(t / half_width, -1.4, 1.4))
    if abs(curvature) < 1e-6:
        return np.stack([s, t], 1)
    a, r = s * curvature, 1 / curvature
    return np.stack([np.sin(a) * (r - t), r - np.cos(a) * (r - t)], 1)


def project(points: np.ndarray, h: np.ndarray) -> np.ndarray:
    """Apply a homography to (P, 2) points."""
    q = points @ h[:2, :2].T + h[:2, 2]
    w = points @ h[2, :2] + h[2, 2]
    return q / w[:, None]


def _paint(mask: np.ndarray, points: np.ndarray, width: float, cut: bool, scale: float) -> None:
    shift = 4
    value = 0 if cut else 255
    breaks = np.flatnonzero(np.isnan(points[:, 0]))
    pieces = np.split(points, breaks)
    fixed = [
        np.round(p[~np.isnan(p[:, 0])] * OVER * (1 << shift)).astype(np.int32)[:, None]
        for p in pieces
    ]
    if width == 0:
        cv2.fillPoly(mask, fixed, value, cv2.LINE_AA, shift)
    elif width < 0:
        radius = max(-width * scale * OVER / 2, 1.0)
        for x, y in fixed[0][:, 0]:
            cv2.circle(
                mask, (int(x), int(y)), round(radius * (1 << shift)), value, -1, cv2.LINE_AA, shift
            )
    else:
        thick = max(round(width * scale * OVER), 1)
        cv2.polylines(mask, fixed, False, value, thick, cv2.LINE_AA, shift)


def random_frame(rng: np.random.Generator, sheet: Sheet) -> tuple[np.ndarray, float, float, float]:
    """Homography, curvature, half width and cap height for a stamp on a tile."""
    cap = float(np.clip(USUAL * np.exp(rng.normal(0, 0.42)), SMALL, LARGE))
    turn = rng.uniform(0, 2 * math.pi)
    half = cap * rng.uniform(0.75, 3.0) if rng.random() < 0.8 else cap * rng.uniform(3, 12)
    reach = [abs(g[2] - 0.5) + 0.5 * g[3] for g in sheet.glyphs]
    if sheet.ladder:
        left = min((g[1] - g[4] / 2 for g in sheet.glyphs), default=0.0)
        reach = [(g[1] + g[4] / 2 - left) / 2 + 0.3 for g in sheet.glyphs]
    half = max(half, cap * (max(reach, default=0.5)) * rng.uniform(0.75, 1.2))
    curvature = rng.choice([0.0, rng.normal(0, 1) / (cap * 14)]) if rng.random() < 0.5 else 0.0
    curvature = float(np.clip(curvature, -0.6 / half, 0.6 / half))
    tilt = rng.normal(0, 0.00035, 2)
    squeeze = np.diag([1.0, rng.uniform(0.72, 1.0)])
    skew = rng.uniform(0, 2 * math.pi)
    s = np.array([[math.cos(skew), -math.sin(skew)], [math.sin(skew), math.cos(skew)]])
    r = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    h = np.eye(3)
    h[:2, :2] = s @ squeeze @ s.T @ r
    h[2, :2] = tilt
    return h, curvature, half, cap


def draw_tile(rng: np.random.Generator, faces: dict[str, Any]) -> Tile:
    """One random stamp warped into a tile; some glyph of it stands near the tile's middle."""
    sheet = random_sheet(rng, faces)
    h, curvature, half, cap = random_frame(rng, sheet)
    if sheet.glyphs:
        pick = sheet.glyphs[int(rng.integers(len(sheet.glyphs)))]
        strengths = [g for g in sheet.glyphs if g[5] > 0]
        if strengths and rng.random() < 0.75:
            pick = strengths[int(rng.integers(len(strengths)))]
        origin = np.array([pick[1], 0.5])
    else:
        origin = np.array([0.0, 0.5])
    if sheet.ladder:
        xs = [g[1] + k * g[4] / 2 for g in sheet.glyphs for k in (-1, 1)]
        origin = np.array([(min(xs) + max(xs)) / 2, pick[2] if sheet.glyphs else 0.5])

    def to_tile(points: np.ndarray) -> np.ndarray:
        local = (points - origin) * [cap, -cap]
        if sheet.ladder:
            local = np.stack([local[:, 1], -local[:, 0]], 1)  # text across the spine
        return project(bend(local, curvature, half), h)

    centre = rng.uniform(0.25, 0.75, 2) * TILE
    h = np.array([[1, 0, centre[0]], [0, 1, centre[1]], [0, 0, 1]]) @ h
    mask = np.zeros((TILE * OVER, TILE * OVER), np.uint8)
    paint_sheet(mask, sheet, to_tile, cap)
    mask = sometimes_hollow(rng, mask, cap)
    frame = np.concatenate([h.ravel(), [curvature, half, cap]]).astype(np.float32)
    return Tile(_shrink(mask), _labels(sheet, to_tile, cap), frame)


def _shrink(mask: np.ndarray) -> np.ndarray:
    return cv2.resize(mask, (TILE, TILE), interpolation=cv2.INTER_AREA)


def sometimes_hollow(rng: np.random.Generator, mask: np.ndarray, cap: float) -> np.ndarray:
    """Now and then only the outlines of what was drawn, as on engraved outline type."""
    if rng.random() >= HOLLOW or not mask.any():
        return mask
    width = max(round(cap * OVER * rng.uniform(0.04, 0.09)), 1)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * width + 1, 2 * width + 1))
    return np.asarray(cv2.morphologyEx(mask, cv2.MORPH_GRADIENT, disc))


def paint_sheet(mask: np.ndarray, sheet: Sheet, to_mask: Any, cap: float) -> None:
    """Draw a sheet's shapes on a mask that is `OVER` times as large as the pixels `to_mask` gives."""
    middle = np.array(mask.shape[::-1]) / OVER / 2
    if sheet.shapes:
        lengths = [len(s.points) for s in sheet.shapes]
        every = to_mask(np.concatenate([s.points for s in sheet.shapes]))
        for shape, points in zip(
            sheet.shapes, np.split(every, np.cumsum(lengths)[:-1]), strict=True
        ):
            if np.nanmin((np.abs(points - middle) - middle).max(1)) < 40:
                _paint(mask, points, shape.width, shape.cut, cap)


STRIPS = 6  # lines on a tile of the line reader, one below the other
STRIP = TILE // STRIPS


def draw_lines(rng: np.random.Generator, faces: dict[str, Any]) -> Tile:
    """A tile of `STRIPS` level lines for the line reader.

    Rows of `glyphs` hold the class, x, the strip's number in the place of y, and 1 for a real row;
    they stand in reading order within each strip.
    """
    mask = np.zeros((TILE * OVER, TILE * OVER), np.uint8)
    rows = np.zeros((MOST, 9), np.float32)
    filled = 0
    for strip in range(STRIPS):
        sheet = random_line(rng, faces)
        cap = 28.0 * float(np.exp(rng.normal(0, 0.12)))
        wide = max((g[1] for g in sheet.glyphs), default=0.0) * cap
        left = rng.uniform(min(0.0, TILE - 30 - wide), 30) + 12
        middle = (strip + 0.5) * STRIP + rng.normal(0, 2.0)
        slope, bow = rng.normal(0, 0.012), rng.normal(0, 1.5e-4)
        squeeze = float(np.exp(rng.normal(0, 0.12)))

        def to_tile(
            p: np.ndarray, cap: float = cap, left: float = left, middle: float = middle,
            slope: float = slope, bow: float = bow, squeeze: float = squeeze,
        ) -> np.ndarray:  # fmt: skip
            x = left + p[:, 0] * cap * squeeze
            from_middle = x - TILE / 2
            return np.stack(
                [x, middle - (p[:, 1] - 0.5) * cap + slope * from_middle + bow * from_middle**2], 1
            )

        paint_sheet(mask, sheet, to_tile, cap)
        if rng.random() < 0.35:  # the edge of a line above or below, which is not read
            other = random_line(rng, faces)
            away = np.array([rng.uniform(-2, 2), rng.uniform(1.1, 1.3) * rng.choice([-1, 1])])

            def beside(p: np.ndarray, at: Any = to_tile, away: np.ndarray = away) -> np.ndarray:
                moved: np.ndarray = at(p + away)
                return moved

            paint_sheet(mask, other, beside, cap)
        order = sorted(sheet.glyphs, key=lambda g: g[1])
        at = to_tile(np.array([[g[1], g[2]] for g in order]))[:, 0] if order else np.zeros(0)
        for g, x in zip(order, at, strict=True):
            if 4 < x < TILE - 4 and filled < MOST:
                rows[filled, [0, 1, 2, 8]] = g[0], x, strip, 1
                filled += 1
    mask = sometimes_hollow(rng, mask, 28.0)
    frame = np.array([1, 0, TILE / 2, 0, 1, TILE / 2, 0, 0, 1, 0, TILE * 2, 28], np.float32)
    return Tile(_shrink(mask), rows, frame)


def _labels(sheet: Sheet, to_tile: Any, cap: float) -> np.ndarray:
    rows = np.zeros((MOST, 9), np.float32)
    if not sheet.glyphs:
        return rows
    g = np.asarray(sheet.glyphs, float)
    middle = g[:, 1:3]
    tip = to_tile(middle + np.array([0.02, 0]))
    tail = to_tile(middle - np.array([0.02, 0]))
    top = to_tile(middle + np.stack([0 * g[:, 3], g[:, 3] / 2], 1))
    foot = to_tile(middle - np.stack([0 * g[:, 3], g[:, 3] / 2], 1))
    way = tip - tail
    grow = np.hypot(*way.T) / 0.04
    way = way / np.maximum(np.hypot(*way.T), 1e-9)[:, None]
    at = to_tile(middle)
    tall = np.hypot(*(top - foot).T)
    inside = (np.abs(at - TILE / 2) < TILE / 2 - 1).all(1) & (tall > 0.45 * g[:, 3] * cap)
    real = np.stack(
        [g[:, 0], at[:, 0], at[:, 1], tall, g[:, 4] * grow, way[:, 0], way[:, 1], g[:, 5], inside],
        1,
    )[inside][:MOST]
    rows[: len(real)] = real
    return rows

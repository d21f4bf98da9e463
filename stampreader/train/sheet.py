"""A stamp being written: shapes to draw and glyphs to learn grow together, glyph by glyph."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from stampreader.reader.alphabet import INDEX, fold
from stampreader.train import pictograms
from stampreader.train.pictograms import Shape


@dataclass
class Sheet:
    """A stamp being laid out: shapes and glyph rows grow together."""

    shapes: list[Shape] = field(default_factory=list)
    # (class, x, y, height, width, role, how far the glyph's own baseline is turned)
    glyphs: list[tuple[int, float, float, float, float, int, float]] = field(default_factory=list)
    ladder: bool = False  # text runs across the spine, the figures one below the other


@dataclass(frozen=True)
class Hand:
    """How a run of text is written."""

    face: dict[str, tuple[float, list[np.ndarray]]]
    strokes: bool
    pen: float  # line width of a stroke face, in cap heights
    wide: float
    slant: float
    tracking: float
    dots: float  # distance of peened dots in cap heights, 0 for none


def choose_hand(rng: np.random.Generator, faces: dict[str, Any]) -> Hand:
    """A random face with random proportions."""
    strokes = bool(rng.random() < 0.22)
    pool = faces["stroke" if strokes else "outline"]
    names = faces["names"]["stroke" if strokes else "outline"]
    dots = rng.uniform(0.13, 0.22) if strokes and rng.random() < 0.45 else 0.0
    return Hand(
        face=pool[names[int(rng.integers(len(names)))]],
        strokes=strokes,
        pen=rng.uniform(0.07, 0.2),
        wide=float(np.exp(rng.normal(-0.03, 0.13 if rng.random() < 0.6 else 0.26)).clip(0.5, 1.6)),
        slant=rng.normal(0, 0.12) if rng.random() < 0.2 else 0.0,
        tracking=rng.uniform(-0.03, 0.22) if rng.random() < 0.8 else rng.uniform(0.2, 0.6),
        dots=dots,
    )


def write(
    sheet: Sheet, hand: Hand, text: str, x: float, y: float, size: float, role: int,
    rng: np.random.Generator,
) -> float:  # fmt: skip
    """Write `text` from (x, y) on the baseline; returns the x after it."""
    uneven = rng.normal(0, 0.015) if rng.random() < 0.3 else 0.0
    for char in text:
        advance, contours = hand.face.get(char) or hand.face.get(char.upper(), (0.35, []))
        if not contours:
            x += size * hand.wide * 0.4
            continue
        scale = np.array([hand.wide * size, size])
        lift = rng.normal(0, abs(uneven)) * size if uneven else 0.0
        placed = [
            np.stack([c[:, 0] + hand.slant * c[:, 1], c[:, 1]], 1) * scale + [x, y + lift]
            for c in contours
        ]
        every = np.concatenate(placed)
        low, high = every.min(0), every.max(0)
        _draw_glyph(sheet, hand, placed, size)
        name = fold(char)
        if name is not None:
            centre = (low + high) / 2
            if name not in ".:-/":
                centre[1] = y + 0.5 * size if char.isupper() or char.isdigit() else centre[1]
            sheet.glyphs.append(
                (
                    INDEX[name],
                    centre[0],
                    centre[1],
                    size,
                    max(high[0] - low[0], 0.1 * size),
                    role,
                    0.0,
                )
            )
        x += (advance * hand.wide + hand.tracking) * size
    return x


def _draw_glyph(sheet: Sheet, hand: Hand, placed: list[np.ndarray], size: float) -> None:
    if not hand.strokes:
        sheet.shapes.append(Shape(np.concatenate([*placed, np.full((1, 2), np.nan)]), 0.0))
        sheet.shapes[-1] = Shape(_join(placed), 0.0)
        return
    for stroke in placed:
        if hand.dots:
            sheet.shapes.append(Shape(_dots(stroke, hand.dots * size), -hand.pen * size * 0.75))
        else:
            sheet.shapes.append(Shape(stroke, hand.pen * size))


def _join(contours: list[np.ndarray]) -> np.ndarray:
    """Contours as one array with rows of NaN between them (filled even-odd together)."""
    gap = np.full((1, 2), np.nan)
    parts: list[np.ndarray] = []
    for contour in contours:
        parts += [contour, gap]
    return np.concatenate(parts[:-1])


def _dots(stroke: np.ndarray, step: float) -> np.ndarray:
    """Points at even distances along a stroke."""
    length = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(stroke, axis=0).T))])
    count = max(round(float(length[-1] / step)), 1) + 1
    at = np.linspace(0, length[-1], count)
    return np.stack([np.interp(at, length, stroke[:, i]) for i in (0, 1)], 1)


def put(
    sheet: Sheet, kind: str, x: float, y: float, size: float, role: int, family: dict[str, float],
    rng: np.random.Generator,
) -> float:  # fmt: skip
    """Draw a pictogram with its left edge at x, centred at height y; returns the x after it."""
    shapes = pictograms.draw(kind, rng, family)
    every = np.concatenate([s.points for s in shapes])
    low, high = every.min(0), every.max(0)
    middle = (low + high) / 2
    at = np.array([x + (high[0] - low[0]) / 2 * size, y])
    sheet.shapes += [Shape((s.points - middle) * size + at, s.width * size, s.cut) for s in shapes]
    wide, tall = (high - low) * size
    sheet.glyphs.append((INDEX[kind], at[0], at[1], max(tall, wide * 0.5), wide, role, 0.0))
    return float(x + wide)


def write_logo(
    sheet: Sheet, hand: Hand, x: float, y: float, size: float, role: int, rng: np.random.Generator
) -> float:
    """The letters CE as the conformity mark has them; returns the x after them."""
    grow = size * rng.uniform(0.9, 1.5)
    pen = rng.uniform(0.1, 0.18)
    pace = rng.uniform(0.72, 1.0) * grow
    for letter, strokes in pictograms.conformity(rng):
        placed = [stroke * grow + [x, y - (grow - size) / 2] for stroke in strokes]
        for stroke in placed:
            points = _dots(stroke, hand.dots * grow) if hand.dots else stroke
            sheet.shapes.append(Shape(points, (-0.75 if hand.dots else 1.0) * pen * grow))
        wide = float(np.ptp(placed[0][:, 0]))
        at = (x + wide / 2, y + 0.5 * size, grow, wide)
        sheet.glyphs.append((INDEX[letter], *at, role, 0.0))
        x += pace
    return x + rng.uniform(0.0, 0.5) * size

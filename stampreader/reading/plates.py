"""Name plates on a picture: words beside boxes that neither cover boxes nor each other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from stampreader.photo.decode import Pixels

Colour = tuple[int, int, int]
Rect = tuple[float, float, float, float]
"""Left, top, right, bottom."""
Point = npt.NDArray[Any]

WHITE: Colour = (255, 255, 255)
DARK: Colour = (32, 32, 32)
COARSE = 4
"""Pixels of the picture to one of the map of what is covered."""
BOX, PLATE = 3.0, 6.0
"""What it costs to cover a box with a figure or mark in it, and a plate."""
CROSSING = 2.0
"""What a line across another plate, box or line costs."""
LENGTH = 0.1
"""What a line costs for each font size of its length."""
WEIGHT = 600
SPACE = 0.35
"""Space inside a plate round its words, in font sizes."""


@dataclass(frozen=True, slots=True)
class _Plate:
    outline: Pixels
    words: str
    colour: Colour


class Plates:
    """The plates of one picture; they are placed when all boxes are known.

    Attributes:
        lines: both ends of the line of each plate drawn, in pixels of the picture.
    """

    def __init__(self, canvas: Pixels, size_px: int) -> None:
        """Plates for a picture, `(H, W, 3) uint8 BGR`, written `size_px` high."""
        self._canvas, self._size = canvas, size_px
        self._plates: list[_Plate] = []
        self.lines: list[tuple[Point, Point]] = []
        self._taken = np.zeros([side // COARSE + 1 for side in canvas.shape[:2]], np.float32)

    def keep_clear(self, outline: Pixels, weight: float = 1.0) -> None:
        """Ask plates to stay off an area, `(4, 2)` in pixels of the picture."""
        area = np.zeros(self._taken.shape, np.uint8)
        cv2.fillConvexPoly(area, np.round(outline / COARSE).astype(np.int32), 1)
        self._taken = np.maximum(self._taken, area * np.float32(weight))

    def add(self, outline: Pixels, words: str, colour: Colour) -> None:
        """A plate for a box, `(4, 2)` in pixels of the picture."""
        self._plates.append(_Plate(outline, words, colour))
        self.keep_clear(outline, BOX)

    def draw(self) -> None:
        """Place and draw all plates, each with a line to its box where it stands off."""
        for plate in self._plates:
            rect = self._place(plate)
            left, top, right, bottom = rect
            corners = np.array([(left, top), (right, top), (right, bottom), (left, bottom)])
            self.keep_clear(corners, PLATE)
            self.lines.append(_line_to(plate, rect))
            self._draw(plate, rect, self.lines[-1])

    def _place(self, plate: _Plate) -> Rect:
        """The place that covers least; of those that cover alike the nearest."""
        space = 2 * SPACE * self._size
        width, height = (side + space for side in text_size(plate.words, self._size))
        rects = [self._inside(r) for r in _around(_bounds(plate.outline), width, height)]
        return min(rects, key=lambda rect: self._covered(rect) + self._crossed(plate, rect))

    def _covered(self, rect: Rect) -> float:
        """How much a plate here would cover, rounded so that traces do not count."""
        left, top, right, bottom = (int(v) // COARSE for v in rect)
        area = self._taken[max(top, 0) : bottom + 1, max(left, 0) : right + 1]
        return round(float(area.mean()), 1) if area.size else 9.0

    def _crossed(self, plate: _Plate, rect: Rect) -> float:
        """What the line from the plate to its box costs: its length, and what it runs over."""
        near, middle = _line_to(plate, rect)
        steps = near + (middle - near) * np.linspace(0, 1, 24)[:, None]
        x, y = (steps / COARSE).astype(int).T
        rows, columns = self._taken.shape
        on = self._taken[y.clip(0, rows - 1), x.clip(0, columns - 1)]
        over = bool((on >= PLATE).any()) + bool((on[6:] == BOX).any())
        over += sum(_meet((near, middle), line) for line in self.lines)
        return CROSSING * over + LENGTH * float(np.linalg.norm(middle - near)) / self._size

    def _inside(self, rect: Rect) -> Rect:
        """The same plate moved into the picture."""
        left, top, right, bottom = rect
        rows, columns = self._canvas.shape[:2]
        dx = max(-left, 0) or min(columns - right, 0)
        dy = max(-top, 0) or min(rows - bottom, 0)
        return left + dx, top + dy, right + dx, bottom + dy

    def _draw(self, plate: _Plate, rect: Rect, line: tuple[Point, Point]) -> None:
        left, top, right, bottom = (round(v) for v in rect)
        pen = max(1, self._size // 14)
        near, middle = (end.round().astype(int).tolist() for end in line)
        cv2.line(self._canvas, near, middle, WHITE, 3 * pen, cv2.LINE_AA)
        cv2.line(self._canvas, near, middle, plate.colour, pen, cv2.LINE_AA)
        cv2.rectangle(self._canvas, (left, top), (right, bottom), plate.colour, -1)
        cv2.rectangle(self._canvas, (left, top), (right, bottom), WHITE, pen)
        inner = round(SPACE * self._size)
        write(self._canvas, plate.words, (left + inner, top + inner), self._size, WHITE)


def _line_to(plate: _Plate, rect: Rect) -> tuple[Point, Point]:
    """Both ends of the line from a box to the middle of its plate."""
    left, top, right, bottom = rect
    middle = np.array([(left + right) / 2, (top + bottom) / 2])
    return np.array(_nearest(plate.outline, (round(middle[0]), round(middle[1])))), middle


def _meet(a: tuple[Point, Point], b: tuple[Point, Point]) -> bool:
    """Whether two lines cross: the ends of each lie on either side of the other."""

    def side(line: tuple[Point, Point], point: Point) -> float:
        (x, y), (u, v) = line[1] - line[0], point - line[0]
        return float(x * v - y * u)

    return side(a, b[0]) * side(a, b[1]) < 0 and side(b, a[0]) * side(b, a[1]) < 0


def text_band(lines: Sequence[str], width: int, size_px: int) -> Pixels:
    """A white band with lines of text, wrapped to a width: `(H, width, 3) uint8 BGR`."""
    inner = size_px
    wrapped = [part for line in lines for part in _wrap(line, width - 2 * inner, size_px)]
    step = round(1.5 * size_px)
    band = np.full((step * len(wrapped) + 2 * inner, width, 3), 255, np.uint8)
    for row, line in enumerate(wrapped):
        write(band, line, (inner, inner + row * step), size_px, DARK)
    return band


def text_size(words: str, size_px: int) -> tuple[int, int]:
    """Width of words at a font size, and the height of their line."""
    _, _, width, _ = cv2.getTextSize((1, 1), words, (0, 0), _face(), size_px, WEIGHT)
    return int(width), size_px


def write(canvas: Pixels, words: str, corner: tuple[int, int], size_px: int, ink: Colour) -> None:
    """Write one line of text, its top-left corner given."""
    base = (corner[0], corner[1] + round(0.86 * size_px))
    cv2.putText(canvas, words, base, ink, _face(), size_px, WEIGHT)


def _face() -> cv2.FontFace:
    return cv2.FontFace("sans")


def _wrap(line: str, width: int, size_px: int) -> Iterator[str]:
    current = ""
    for word in line.split(" "):
        longer = f"{current} {word}" if current else word
        if current and text_size(longer, size_px)[0] > width:
            yield current
            current = word
        else:
            current = longer
    yield current


def _nearest(outline: Pixels, point: tuple[int, int]) -> tuple[int, int]:
    """The point of an outline, `(4, 2)`, nearest to another point."""
    shares = np.linspace(0, 1, 9)[:, None, None]
    edge = (outline * (1 - shares) + np.roll(outline, -1, axis=0) * shares).reshape(-1, 2)
    x, y = edge[np.argmin(((edge - point) ** 2).sum(axis=1))]
    return round(float(x)), round(float(y))


def _bounds(outline: Pixels) -> Rect:
    low, high = outline.min(axis=0), outline.max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _around(box: Rect, width: float, height: float) -> Iterator[Rect]:
    """Places above, below, right and left of a box, then the same further away."""
    left, top, right, bottom = box
    x, y = (left + right) / 2, (top + bottom) / 2
    for ring in range(6):
        gap = height * (0.3 + 1.1 * ring)
        for cx, cy in (
            (x, top - gap - height / 2),
            (x, bottom + gap + height / 2),
            (right + gap + width / 2, y),
            (left - gap - width / 2, y),
            (right + width / 2, top - gap - height / 2),
            (left - width / 2, top - gap - height / 2),
            (right + width / 2, bottom + gap + height / 2),
            (left - width / 2, bottom + gap + height / 2),
        ):
            yield cx - width / 2, cy - height / 2, cx + width / 2, cy + height / 2

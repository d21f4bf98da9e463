"""A line of glyphs as a row of cells: which character each may be, and the space before it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from stampreader.words import Glyph, Quad

Place = tuple[int, int]
"""Line and position in it."""

TWINS: tuple[frozenset[str], ...] = tuple(
    frozenset(group) for group in ("O0QD", "I1L", "S5", "B8", "Z2", "G6", "A4", "T7", "9G")
)
"""Characters that are easily taken for each other on metal."""

_TWINS_OF: dict[str, frozenset[str]] = {
    char: frozenset().union(*(group for group in TWINS if char in group))
    for char in frozenset().union(*TWINS)
}

BREAK = 2.2
"""Space, in heights, that stands for a line break between joined lines."""
USUAL = 0.27
"""Space between the characters of a word, in heights, in type of usual spacing."""
SHIFTED = (-0.12, 0.3)
"""How much closer and wider a maker sets the characters of a line, at most."""
ENOUGH = 4
"""Pairs of characters that show how wide a line is set."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One character of a line.

    Attributes:
        char: as read, in capitals.
        confidence: that it is right.
        place: line and position.
        gap: free space before it, in heights; 9 at the beginning of a line.
        others: other characters with their probability.
        ringed: a ring is drawn round it.
        height: of the glyph against a capital of its line; a dot is small.
    """

    char: str
    confidence: float
    place: Place
    gap: float
    others: Mapping[str, float] = field(default_factory=dict)
    ringed: bool = False

    def chance(self, char: str) -> float:
        """Probability the reader gave a character; 0 if it never thought of it."""
        return self.confidence if self.char == char else self.others.get(char, 0.0)

    def may_be(self, char: str) -> bool:
        """Whether a fixed word may have this character here: seen, thought of, or a twin."""
        return char == self.char or char in _TWINS_OF.get(self.char, "") or self.chance(char) > 0.04


def line_cells(glyphs: Sequence[Glyph], line: int) -> tuple[Cell, ...]:
    """The cells of one line of glyphs in reading order; rings mark the letter they surround."""
    rings = [g for g in glyphs if g.char == "<ring>"]
    cells = []
    before: Glyph | None = None
    wider = _set_wider(glyphs)
    for position, glyph in enumerate(glyphs):
        if glyph.char == "<ring>":
            continue
        ringed = any(
            math.hypot(r.x - glyph.x, r.y - glyph.y) < 0.45 * max(r.height_px, glyph.height_px)
            for r in rings
        )
        others: dict[str, float] = {}
        for char, chance in glyph.alternatives:
            others[char.upper()] = others.get(char.upper(), 0.0) + chance
        gap = 9.0 if before is None else _gap(before, glyph) - wider
        char = glyph.char if glyph.char.startswith("<") else glyph.char.upper()
        cells.append(Cell(char, glyph.confidence, (line, position), gap, others, ringed))
        before = glyph
    return tuple(cells)


def _gap(a: Glyph, b: Glyph) -> float:
    size = max(a.height_px, b.height_px)
    return (math.hypot(b.x - a.x, b.y - a.y) - (a.width_px + b.width_px) / 2) / size


def _set_wider(glyphs: Sequence[Glyph]) -> float:
    """How much wider than usual the characters of a line stand, in heights."""
    spaces = sorted(_gap(a, b) for a, b in pairwise(glyphs) if len(a.char) == len(b.char) == 1)
    if len(spaces) < ENOUGH:
        return 0.0
    return min(max(spaces[len(spaces) // 3] - USUAL, SHIFTED[0]), SHIFTED[1])


def text_cells(text: str) -> tuple[tuple[Cell, ...], ...]:
    """Cells of typed text, one row a line; brackets and commas count as spaces.

    A letter in brackets, as in `(H)`, counts as ringed.
    """
    return tuple(_typed_row(row, n) for n, row in enumerate(text.splitlines()))


def _typed_row(row: str, line: int) -> tuple[Cell, ...]:
    cells = []
    gap = 9.0
    for position, char in enumerate(row):
        if char.isspace() or char in "(),[]":
            gap = max(gap, 0.8)
            continue
        ringed = row[max(position - 1, 0)] == "(" and row[position + 1 : position + 2] == ")"
        cells.append(Cell(char.upper(), 1.0, (line, position), gap, {}, ringed))
        gap = 0.1
    return tuple(cells)


def joined(first: Sequence[Cell], second: Sequence[Cell]) -> tuple[Cell, ...]:
    """Two lines as one row, with a line break's space between."""
    if not second:
        return tuple(first)
    head = second[0]
    broken = Cell(head.char, head.confidence, head.place, BREAK, head.others, head.ringed)
    return (*first, broken, *second[1:])


def follows(upper: Sequence[Glyph], lower: Sequence[Glyph]) -> bool:
    """Whether a line stands right below another, so that a mark may go on in it."""
    if not upper or not lower:
        return False
    first, last, below = upper[0], upper[-1], lower[0]
    size = math.hypot(last.x - first.x, last.y - first.y)
    turn = math.radians(first.angle_deg)
    x, y = (last.x - first.x, last.y - first.y) if size else (math.cos(turn), math.sin(turn))
    length = math.hypot(x, y)
    x, y = x / length, y / length
    along = (below.x - first.x) * x + (below.y - first.y) * y
    down = (below.y - first.y) * x - (below.x - first.x) * y
    height = max(first.height_px, below.height_px)
    return 0.6 * height < down < 3.0 * height and -4.0 * height < along < size + 2.0 * height


def box_of(lines: Sequence[Sequence[Glyph]], places: Sequence[Place]) -> Quad | None:
    """Box round glyphs, along the direction from the first to the last of a line."""
    glyphs = [lines[line][position] for line, position in sorted(places)]
    if not glyphs:
        return None
    x = sum(math.cos(math.radians(g.angle_deg)) for g in glyphs)
    y = sum(math.sin(math.radians(g.angle_deg)) for g in glyphs)
    first, last = (
        glyphs[0],
        [g for g, p in zip(glyphs, sorted(places), strict=True) if p[0] == min(places)[0]][-1],
    )
    if first is not last:
        x, y = last.x - first.x, last.y - first.y
    size = math.hypot(x, y) or 1.0
    x, y = x / size, y / size
    along = [(g.x * x + g.y * y, g.width_px / 2) for g in glyphs]
    down = [(g.y * x - g.x * y, g.height_px / 2) for g in glyphs]
    left, right = min(a - w for a, w in along), max(a + w for a, w in along)
    top, bottom = min(d - h for d, h in down), max(d + h for d, h in down)
    a, b, c, d = (
        (u * x - v * y, u * y + v * x)
        for u, v in ((left, top), (right, top), (right, bottom), (left, bottom))
    )
    return a, b, c, d

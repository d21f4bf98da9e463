"""Which pictogram stands at which number: geometry in the number's own frame.

A stamp keeps one habit: all its pictograms stand before, behind, above or below their numbers,
or as a set of their own. For each habit this module gives how well each pictogram fits each
number, between 0 and 1.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from stampreader.figures.geometry import centre, in_frame, mean_angle
from stampreader.figures.lines import RING, Line, is_pictogram
from stampreader.figures.tokens import Number
from stampreader.words import SLOTS, Glyph, Slot

HABITS: dict[str, float] = {"before": 0.35, "after": 0.2, "above": 0.2, "below": 0.15, "set": 0.1}
"""Where pictograms stand for their numbers, and how usual that is (common practice, no source)."""

SIGN_SLOTS: dict[str, Slot] = {
    "<closed>": Slot.CLOSED,
    "<along>": Slot.CLOSED,
    "<cross>": Slot.CROSS,
    "<across>": Slot.CROSS,
    "<open>": Slot.OPEN,
}


@dataclass(frozen=True, slots=True)
class Sign:
    """A pictogram in its line, with the probability that it means each slot."""

    line: int
    place: int
    glyph: Glyph
    chances: tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Frame:
    """A number's own frame: middle, direction, size, and how far it reaches to either side."""

    middle: tuple[float, float]
    angle_deg: float
    height_px: float
    start: float
    end: float

    def place_of(self, glyph: Glyph) -> tuple[float, float]:
        """Centre of a glyph in heights along and down from the number's middle."""
        along, down = in_frame(self.middle, self.angle_deg, (glyph.x, glyph.y))
        return along / self.height_px, down / self.height_px


def find_signs(lines: Sequence[Line]) -> tuple[Sign, ...]:
    """The pictograms of a stamp in reading order."""
    return tuple(
        Sign(n, place, glyph, _chances(glyph))
        for n, line in enumerate(lines)
        for place, glyph in enumerate(line.glyphs)
        if is_pictogram(glyph.char) and glyph.char != RING
    )


def _chances(glyph: Glyph) -> tuple[float, float, float]:
    chances = dict.fromkeys(SLOTS, 0.0)
    for char, p in ((glyph.char, glyph.confidence), *glyph.alternatives):
        if char in SIGN_SLOTS:
            chances[SIGN_SLOTS[char]] += p
    if glyph.role is not None:
        for slot, vote in zip(SLOTS, glyph.role[1:4], strict=True):
            chances[slot] = math.sqrt(max(chances[slot], 1e-4) * max(vote, 1e-3))
        total = sum(chances.values())
        chances = {slot: min(glyph.confidence * c / total, 1.0) for slot, c in chances.items()}
    return chances[Slot.CLOSED], chances[Slot.CROSS], chances[Slot.OPEN]


def frame_of(number: Number, lines: Sequence[Line]) -> Frame:
    """The frame of a number, its unit counted as its end."""
    line = lines[number.line]
    middle = centre(number.glyphs)
    angle = mean_angle(line.tangents_deg[p] for p in number.places)
    height = line.height_px
    edges = []
    for glyph in (*number.glyphs, *(line.glyphs[p] for p in number.unit_places)):
        along, _ = in_frame(middle, angle, (glyph.x, glyph.y))
        edges += [(along - glyph.width_px / 2) / height, (along + glyph.width_px / 2) / height]
    return Frame(middle, angle, height, min(edges), max(edges))


def fits(
    numbers: Sequence[Number], signs: Sequence[Sign], lines: Sequence[Line], habit: str
) -> list[list[float]]:
    """How well each sign fits each number under a habit: one row a number, 0 to 1."""
    if habit == "set":
        return _set_fits(numbers, signs)
    frames = [frame_of(number, lines) for number in numbers]
    rows = [[_fit(frame, sign, habit) for sign in signs] for frame in frames]
    for column in range(len(signs)):
        _keep_best([row[column] for row in rows], rows, column)
    for row in rows:
        best = max(row, default=0.0)
        row[:] = [value if value == best else value * 0.1 for value in row]
    return rows


def _keep_best(values: Sequence[float], rows: list[list[float]], column: int) -> None:
    """A pictogram speaks for the nearest number; for farther ones hardly at all."""
    best = max(values, default=0.0)
    for row in rows:
        if row[column] < best:
            row[column] *= 0.1


def _fit(frame: Frame, sign: Sign, habit: str) -> float:
    along, down = frame.place_of(sign.glyph)
    half = sign.glyph.width_px / frame.height_px / 2
    if habit in ("before", "after"):
        gap = frame.start - along - half if habit == "before" else along - half - frame.end
        if not -0.6 < gap < 4.0 or abs(down) > 1.2:
            return 0.0
        return math.exp(-max(gap - 0.25, 0.0) / 1.2 - (down / 0.7) ** 2 / 2)
    rise = -down if habit == "above" else down
    if not 0.5 < rise < 4.0:
        return 0.0
    aside = max(frame.start - along, along - frame.end, 0.0)
    lateral = min(abs(along), abs(along - (frame.start + frame.end) / 2)) / 1.6
    clear = rise - 0.5 - sign.glyph.height_px / frame.height_px / 2
    return math.exp(-max(clear - 0.3, 0.0) / 0.8 - (aside / 0.5) ** 2 / 2 - lateral**2 / 2)


def _set_fits(numbers: Sequence[Number], signs: Sequence[Sign]) -> list[list[float]]:
    """A row of pictograms and a row of as many numbers: the first belongs to the first."""
    rows = [[0.0] * len(signs) for _ in numbers]
    places = [(s.line, s.place) for s in signs]
    starts = [(n.line, n.places[0]) for n in numbers]
    apart = bool(places and starts) and (max(places) < min(starts) or max(starts) < min(places))
    one_line = len({s.line for s in signs}) == 1 and len({n.line for n in numbers}) == 1
    if apart and one_line and 2 <= len(signs) == len(numbers) <= 3 and _tight(signs):
        for k in range(len(signs)):
            rows[k][k] = 0.7
    return rows


def _tight(signs: Sequence[Sign]) -> bool:
    """Whether pictograms follow each other without anything between."""
    return all(b.place == a.place + 1 for a, b in pairwise(signs))

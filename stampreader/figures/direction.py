"""Which way a stamp is read: one decision from the evidence of all its glyphs.

A line of glyphs can be read from either end. Under the wrong end a 7 would have to be an upside
down 7, which no character looks like; a 6 would simply be a 9. The evidence of a glyph is the
logarithm of how much likelier its picture is the way the reader saw it, in nats; it is large
for characters that look like nothing upside down and near nothing for 0, 1, 6, 8 and 9.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from stampreader.figures.geometry import mean_angle, turn_between
from stampreader.figures.lines import ARROWS, RING, Line, is_pictogram
from stampreader.words import Glyph

UPSIDE_DOWN: dict[str, str] = {
    **{c: c for c in "018IOHXNSZ-/:"},
    **{"6": "9", "9": "6", "M": "W", "W": "M", "d": "P", "P": "d", "n": "U", "U": "n", "b": "q"},
    **{"q": "b"},
}
"""What a character reads as upside down; others read as nothing."""

WEIGHT_CLEAR = 3.5  # a character that looks like nothing upside down: about 3 in 100 misjudged
WEIGHT_LIKE = 1.5  # one that looks somewhat like another upside down: 2, 5, 3 (E), 4 (h), 7 (L)
WEIGHT_SAME = 0.25  # one that reads upside down as well: only its surroundings can tell
WEIGHT_SIGN = 1.0  # a pictogram whose drawing has a top
WEIGHT_PAIR = 2.0  # two letters that stand in this order in units and marks
UPSET = 0.8  # trust left in a character seen against the direction of its line
AS_INK = 0.6  # a 6 seen upside down is the ink of a 9 rather than a 6 of wrong direction
LENT, MOST_LENT = 0.8, 6.0  # share of another line's evidence that counts, and its limit in nats
OWN_WAY, AGAINST = 3.5, 0.25  # evidence from which other lines against it count this part only
SAME_LIMIT = 1.0  # all glyphs that read upside down as well count no more than this together

_LIKE = frozenset("2534ELhdnqbPUrtai")
_TOPLESS = ARROWS | {RING}
_PAIRS = frozenset(
    ["KN", "CE", "EN", "UI", "IA", "AA", "NF", "FP", "PA", "LB", "BF", "KG", "DA", "UK", "KC", "CA"]
)


@dataclass(frozen=True, slots=True)
class Direction:
    """The decided direction of a line.

    Attributes:
        angle_deg: direction of reading in the middle of the line.
        evidence: nats in favour of the decision, at least 0.
        letters: nats from characters that look like nothing upside down, within `evidence`.
    """

    angle_deg: float
    evidence: float
    letters: float

    @property
    def probability(self) -> float:
        """Probability that the direction is right, 0.5 to 1."""
        return 1.0 / (1.0 + math.exp(-min(self.evidence, 60.0)))


def upside_down(text: str) -> str | None:
    """What a text reads as when turned by half a turn, `None` if as nothing.

    Example: `upside_down("69")` is `"69"`, `upside_down("18")` is `"81"`, `"27"` gives `None`.
    """
    turned = [UPSIDE_DOWN.get(c) for c in reversed(text)]
    return None if None in turned else "".join(c for c in turned if c is not None)


def glyph_weight(char: str) -> float:
    """Nats one surely seen glyph gives for the direction the reader saw it in."""
    if is_pictogram(char):
        return 0.0 if char in _TOPLESS else WEIGHT_SIGN
    if char in UPSIDE_DOWN:
        return WEIGHT_SAME
    return WEIGHT_LIKE if char in _LIKE else WEIGHT_CLEAR


def line_evidence(line: Line) -> tuple[float, float]:
    """Nats for reading a line in its present order: from all glyphs, and from clear ones alone."""
    clear = same = 0.0
    for glyph, tangent in zip(line.glyphs, line.tangents_deg, strict=True):
        if glyph.char == ".":
            continue
        vote = math.cos(math.radians(turn_between(glyph.angle_deg, tangent)))
        weight = glyph_weight(glyph.char) * vote * max(2.0 * glyph.confidence - 1.0, 0.0)
        if glyph.char in UPSIDE_DOWN:
            same += weight
        else:
            clear += weight
    clear += WEIGHT_PAIR * _pairs(line) + _baseline_dots(line)
    return clear + max(-SAME_LIMIT, min(SAME_LIMIT, same)), clear


def _pairs(line: Line) -> int:
    """Letter pairs of units and marks read forwards less those read backwards."""
    chars = [g.char.upper() for g in line.glyphs]
    forward = sum(a + b in _PAIRS for a, b in pairwise(chars))
    backward = sum(b + a in _PAIRS for a, b in pairwise(chars))
    return max(-3, min(3, forward - backward))


def _baseline_dots(line: Line) -> float:
    """Nats from decimal points: they stand at the foot of a line, not at its head."""
    total = 0.0
    for place, glyph in enumerate(line.glyphs):
        if glyph.char != "." or len(line.glyphs) < 2:
            continue
        beside = line.glyphs[place - 1] if place else line.glyphs[1]
        tangent = math.radians(line.tangents_deg[place])
        dx, dy = glyph.x - beside.x, glyph.y - beside.y
        down = (-dx * math.sin(tangent) + dy * math.cos(tangent)) / line.height_px
        total += WEIGHT_LIKE * max(-1.0, min(1.0, down / 0.3)) * glyph.confidence
    return total


def decide(lines: Sequence[Line]) -> list[tuple[Line, Direction]]:
    """Reads the lines of one stamp the right way round.

    Lines that run alike share their evidence; a line with strong evidence of its own for the
    other way (a second impression, put in from the other side) keeps it.
    """
    along = _aligned(lines)
    votes = np.array([line_evidence(line) for line in along])
    others = np.clip(votes, -MOST_LENT, MOST_LENT)
    angles = np.radians([mean_angle(line.tangents_deg) for line in along])
    share = LENT * np.maximum(np.cos(angles[:, None] - angles[None, :]), 0.0) ** 2
    np.fill_diagonal(share, 0.0)
    decided = []
    lent = share @ others
    against = (np.sign(votes) != np.sign(lent)) & (np.abs(votes) >= OWN_WAY)
    totals = votes + np.where(against, AGAINST * lent, lent)
    for line, (total, clear) in zip(along, totals.tolist(), strict=True):
        right = line if total >= 0 else line.reversed()
        sign = 1.0 if total >= 0 else -1.0
        decided.append((upright(right), Direction(right.angle_deg, abs(total), sign * clear)))
    return decided


def upright(line: Line) -> Line:
    """The line with every glyph named as it reads in the line's direction.

    A reader that saw a 6 the other way round saw the ink of a 9, unless it erred in the direction
    alone: both are kept, the 9 first, and neither is certain.
    """
    glyphs = []
    for glyph, tangent in zip(line.glyphs, line.tangents_deg, strict=True):
        if abs(turn_between(glyph.angle_deg, tangent)) <= 90.0 or is_pictogram(glyph.char):
            glyphs.append(glyph)
        else:
            glyphs.append(_turned(glyph, tangent))
    return replace(line, glyphs=tuple(glyphs))


def _turned(glyph: Glyph, tangent_deg: float) -> Glyph:
    """A glyph seen against the line's direction, taken as it reads along it."""
    other = UPSIDE_DOWN.get(glyph.char)
    if other == glyph.char:
        return replace(glyph, angle_deg=tangent_deg)
    if other is None:
        return replace(glyph, angle_deg=tangent_deg, confidence=UPSET * glyph.confidence)
    rest = tuple((c, p * UPSET) for c, p in glyph.alternatives if c != other)
    return replace(
        glyph,
        char=other,
        angle_deg=tangent_deg,
        confidence=AS_INK * glyph.confidence,
        alternatives=((glyph.char, (1.0 - AS_INK) * glyph.confidence), *rest),
    )


def _aligned(lines: Sequence[Line]) -> list[Line]:
    """The lines turned so that all run the way of the longest one."""
    longest = max(lines, key=lambda line: (len(line.glyphs), line.height_px))
    axis = mean_angle(longest.tangents_deg)
    return [
        line if abs(turn_between(mean_angle(line.tangents_deg), axis)) <= 90.0 else line.reversed()
        for line in lines
    ]

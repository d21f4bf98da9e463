"""Room for a digit that nobody saw: a hole beside a number where its neighbours stand close.

A figure that lost a digit is the most dangerous misreading: 27 becomes 7, and reads well. Its
place stays empty, though: the number then stands farther from its pictogram, its unit or a
separator than the other numbers of the stamp do.
"""

from __future__ import annotations

from collections.abc import Sequence

from stampreader.figures.geometry import median
from stampreader.figures.lines import Line
from stampreader.figures.links import frame_of
from stampreader.figures.slots import Claim
from stampreader.figures.tokens import Number

WIDER = 0.42  # wider than the stamp's other gaps of the kind by so many heights: a digit's room
WIDE_TO_SIGN = 1.2  # free space, in heights, that is wide without others to compare with
WIDE_TO_UNIT = 0.7
WIDE_TO_BAR = 0.6
STRAY_NEAR = 2.5  # a digit of nothing else, nearer than this, may belong to the number

Taken = frozenset[tuple[int, int]]


def hollow(claim: Claim, claims: Sequence[Claim], lines: Sequence[Line]) -> bool:
    """Whether a digit may be missing at either end of a claimed number."""
    for measure, most in ((_to_sign, WIDE_TO_SIGN), (_to_unit, WIDE_TO_UNIT)):
        own = measure(claim, lines)
        if own is None:
            continue
        rest = [g for c in claims if c is not claim and (g := measure(c, lines)) is not None]
        if own > (median(rest) + WIDER if rest else most):
            return True
    return _beside_bar(claim.number, lines[claim.number.line])


def stray(claim: Claim, claims: Sequence[Claim], lines: Sequence[Line], taken: Taken) -> bool:
    """Whether a digit or point beside the number, with nothing between, belongs to nothing.

    A decimal whose point was missed leaves its parts so: 8.3 as an 8 and a 3.
    """
    number = claim.number
    line = lines[number.line]
    others = {(c.number.line, p) for c in claims for p in c.number.places} | taken
    for edge, place in (
        (number.places[0] - 1, number.places[0] - 1),
        (number.places[-1], number.places[-1] + 1),
    ):
        if edge < 0 or place >= len(line.glyphs) or (number.line, place) in others:
            continue
        char = line.glyphs[place].char
        if (char.isdigit() or char == ".") and line.gap_after(edge) < STRAY_NEAR:
            return True
    return False


def _to_sign(claim: Claim, lines: Sequence[Line]) -> float | None:
    """Free space between a number and the pictogram beside it; none if it stands above or below."""
    if claim.sign is None or claim.habit not in ("before", "after"):
        return None
    frame = frame_of(claim.number, lines)
    along, down = frame.place_of(claim.sign.glyph)
    if abs(down) > 0.9:
        return None
    half = claim.sign.glyph.width_px / frame.height_px / 2
    return max(frame.start - along, along - frame.end) - half


def _to_unit(claim: Claim, lines: Sequence[Line]) -> float | None:
    number = claim.number
    if not number.unit_places or number.unit_places[0] != number.places[-1] + 1:
        return None
    return lines[number.line].gap_after(number.places[-1])


def _beside_bar(number: Number, line: Line) -> bool:
    """Whether a separator next to the number stands a digit's room away from it."""
    first, last = number.places[0], number.places[-1]
    before = first > 0 and line.glyphs[first - 1].char in "/-"
    after = last + 1 < len(line.glyphs) and line.glyphs[last + 1].char in "/-"
    return (before and line.gap_after(first - 1) > WIDE_TO_BAR) or (
        after and line.gap_after(last) > WIDE_TO_BAR
    )

"""Room for a digit that nobody saw: a hole beside a number where its neighbours stand close.

A figure that lost a digit is the most dangerous misreading: 27 becomes 7, and reads well. Its
place stays empty, though: the number then stands farther from its pictogram, its unit or a
separator than the other numbers of the stamp do.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from stampreader.figures.geometry import median
from stampreader.figures.lines import Line
from stampreader.figures.links import frame_of
from stampreader.figures.slots import Claim
from stampreader.figures.tokens import usual_space
from stampreader.words import Glyph

Taken = frozenset[tuple[int, int]]
Measure = Callable[[Claim, Sequence[Line]], float | None]

WIDER = 0.42  # wider than the stamp's other gaps of the kind by so many heights: a digit's room
WIDE_TO_SIGN = 1.0  # free space, in heights, below which the room beside a pictogram is usual
WIDE_TO_UNIT = 0.7
WIDE_TO_BAR = 0.95
STRAY_NEAR = 1.1  # a digit of nothing else, nearer than this beyond the usual space, may belong
HINT_NEAR, HINT_ASIDE = 0.8, 0.6  # so far off a number, in heights, a faint digit may be its own
STRAY_BEFORE_UNIT = 2.5  # the same behind a number that lacks the unit the others have


def hollow(claim: Claim, claims: Sequence[Claim], lines: Sequence[Line]) -> bool:
    """Whether a digit may be missing at either end of a claimed number."""
    return any(_is_wide(claim, claims, lines, measure, most) for measure, most in MEASURES)


def _is_wide(
    claim: Claim, claims: Sequence[Claim], lines: Sequence[Line], measure: Measure, most: float
) -> bool:
    """Whether a gap is wider than the stamp's others of its kind by a digit's room.

    How wide a pictogram is drawn, and how wide a reader takes it, varies from one to the next, so
    beside one only a gap that is wide by itself counts.
    """
    own = measure(claim, lines)
    if own is None:
        return False
    rest = [g for c in claims if c is not claim and (g := measure(c, lines)) is not None]
    if not rest:
        return own > most
    return own > median(rest) + WIDER and (measure is not _to_sign or own > most)


def stray(claim: Claim, claims: Sequence[Claim], lines: Sequence[Line], taken: Taken) -> bool:
    """Whether a digit or point beside the number, with nothing between, belongs to nothing.

    A decimal whose point was missed leaves its parts so: 8.3 as an 8 and a 3.
    """
    number = claim.number
    line = lines[number.line]
    others = {(c.number.line, p) for c in claims for p in c.number.places} | taken
    usual = usual_space(line) + STRAY_NEAR
    no_unit = number.unit is None and any(c.number.unit for c in claims)
    for edge, place, near in (
        (number.places[0] - 1, number.places[0] - 1, usual),
        (number.places[-1], number.places[-1] + 1, STRAY_BEFORE_UNIT if no_unit else usual),
    ):
        if edge < 0 or place >= len(line.glyphs) or (number.line, place) in others:
            continue
        char = line.glyphs[place].char
        if (char.isdigit() or char == ".") and line.gap_after(edge) < near:
            return True
    return False


def hinted(claim: Claim, lines: Sequence[Line], hints: Sequence[Glyph]) -> bool:
    """Whether a digit or point too faint to be read may belong to the number."""
    frame = frame_of(claim.number, lines)
    return any(
        frame.start - HINT_NEAR < along < frame.end + HINT_NEAR and abs(down) < HINT_ASIDE
        for along, down in map(frame.place_of, hints)
    )


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


def _to_bar_before(claim: Claim, lines: Sequence[Line]) -> float | None:
    line, first = lines[claim.number.line], claim.number.places[0]
    return line.gap_after(first - 1) if first and line.glyphs[first - 1].char in "/-" else None


def _to_bar_behind(claim: Claim, lines: Sequence[Line]) -> float | None:
    line, last = lines[claim.number.line], claim.number.places[-1]
    follows = last + 1 < len(line.glyphs) and line.glyphs[last + 1].char in "/-"
    return line.gap_after(last) if follows else None


MEASURES: tuple[tuple[Measure, float], ...] = (
    (_to_sign, WIDE_TO_SIGN),
    (_to_unit, WIDE_TO_UNIT),
    (_to_bar_before, WIDE_TO_BAR),
    (_to_bar_behind, WIDE_TO_BAR),
)

"""What another reader saw where the first one saw a figure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from stampreader.figures.geometry import mean_angle, turn_between
from stampreader.figures.lines import Line, is_pictogram
from stampreader.figures.links import SIGN_SLOTS, Frame, Sign, frame_of
from stampreader.figures.tokens import PARTS, Number, usual_space
from stampreader.words import Glyph, Slot

ASIDE = 0.75  # how far, in heights, a reader's glyph may lie off the line
SLACK = 0.12  # how much farther apart than for the first reader digits of a number may lie


class Verdict(StrEnum):
    """What a second look gave."""

    AGREES = "agrees"
    DIFFERS = "differs"
    NOT_SEEN = "not seen"


@dataclass(frozen=True, slots=True)
class Testimony:
    """What one reader says of one figure.

    Attributes:
        number: whether its digits are the same.
        text: the digits it read.
        sign: whether its pictogram is the same.
        turned: it read the figure the other way round.
        confidence: least probability it gave its digits, 0 if it saw none.
    """

    number: Verdict
    text: str = ""
    sign: Verdict = Verdict.NOT_SEEN
    turned: bool = False
    confidence: float = 0.0


def hear(
    number: Number, sign: Sign | None, slot: Slot, lines: Sequence[Line], glyphs: Sequence[Glyph]
) -> Testimony:
    """Compares a figure with what another reader saw in its place.

    The other reader's digits count as one number while they follow each other closely; digits it
    adds at either end of the figure make it differ.
    """
    frame = frame_of(number, lines)
    placed = _on_line(frame, glyphs)
    run = _run_at(number, frame, placed, _step(number, lines[number.line]))
    seen_sign = _sign_at(sign, slot, lines, glyphs)
    if not run:
        return Testimony(Verdict.NOT_SEEN, sign=seen_sign)
    turned = abs(turn_between(mean_angle(g.angle_deg for g in run), frame.angle_deg)) > 90.0
    text = "".join(g.char for g in (reversed(run) if turned else run)).rstrip(".")
    same = text == number.text and not turned
    return Testimony(
        Verdict.AGREES if same else Verdict.DIFFERS,
        text,
        seen_sign,
        turned,
        min(g.confidence for g in run),
    )


def _on_line(frame: Frame, glyphs: Sequence[Glyph]) -> list[tuple[float, Glyph]]:
    """Glyphs near the figure's line, with their place along it in heights, in order."""
    placed = []
    for glyph in glyphs:
        along, down = frame.place_of(glyph)
        if abs(down) <= ASIDE and abs(along) < 8.0:
            placed.append((along, glyph))
    return sorted(placed, key=lambda item: item[0])


def _step(number: Number, line: Line) -> float:
    """How far apart, centre to centre in heights, digits of one number may lie."""
    widths = [g.width_px / line.height_px for g in number.glyphs if g.char != "."]
    return max(widths) + usual_space(line) + PARTS + SLACK


def _run_at(
    number: Number, frame: Frame, placed: Sequence[tuple[float, Glyph]], step: float
) -> list[Glyph]:
    """The other reader's number that overlaps the figure's digits most."""
    first = frame.place_of(number.glyphs[0])[0] - 0.45
    last = frame.place_of(number.glyphs[-1])[0] + 0.45
    best: list[tuple[float, Glyph]] = []
    for run in _runs(placed, step):
        inside = sum(first <= along <= last for along, _ in run)
        if inside > sum(first <= along <= last for along, _ in best):
            best = run
    return [glyph for _, glyph in best]


def _runs(placed: Sequence[tuple[float, Glyph]], step: float) -> list[list[tuple[float, Glyph]]]:
    runs: list[list[tuple[float, Glyph]]] = []
    joined = False
    for along, glyph in placed:
        if not (glyph.char.isdigit() or glyph.char == "."):
            joined = False
            continue
        if joined and along - runs[-1][-1][0] <= step:
            runs[-1].append((along, glyph))
        else:
            runs.append([(along, glyph)])
        joined = True
    return runs


def _sign_at(
    sign: Sign | None, slot: Slot, lines: Sequence[Line], glyphs: Sequence[Glyph]
) -> Verdict:
    """What the reader took the figure's pictogram for."""
    if sign is None:
        return Verdict.NOT_SEEN
    height = max(sign.glyph.height_px, lines[sign.line].height_px)
    near = [
        ((g.x - sign.glyph.x) ** 2 + (g.y - sign.glyph.y) ** 2, g)
        for g in glyphs
        if is_pictogram(g.char) and g.char in SIGN_SLOTS
    ]
    near = [(d, g) for d, g in near if d < (0.8 * height) ** 2]
    if not near:
        return Verdict.NOT_SEEN
    _, other = min(near, key=lambda item: item[0])
    return Verdict.AGREES if SIGN_SLOTS[other.char] is slot else Verdict.DIFFERS

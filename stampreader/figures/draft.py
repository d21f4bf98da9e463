"""From the glyphs of one reader to a draft of each stamp in the photo."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Protocol

from stampreader.figures.columns import column_cuts
from stampreader.figures.direction import Direction, decide
from stampreader.figures.doubles import without_doubles
from stampreader.figures.fuse import fuse
from stampreader.figures.geometry import box_around, distance, in_frame, mean_angle
from stampreader.figures.groups import group_lines
from stampreader.figures.lines import ARROWS, Line, find_lines, is_pictogram
from stampreader.figures.links import find_signs
from stampreader.figures.slots import Claim, alone, assign, by_order, completed, pair, with_parts
from stampreader.figures.tokens import Number, ends_with, find_numbers, word_before
from stampreader.figures.torn import torn
from stampreader.words import Glyph, Mark, Quad, Slot

FAINTEST = 0.28  # glyphs fainter than this are not read
HINT = 0.12  # but from this on they tell that something may stand beside a figure
FIRM = 0.5  # a glyph seen well enough to speak for a stamp being there
FIRM_LINE = 0.42  # least mean confidence of a line that is looked at
FIRM_EVIDENCE = 0.9  # least evidence, in nats, for the direction of one of its lines
CLEAR = 0.85  # mean confidence of firm glyphs that makes up for it
FEWEST_FIRM = 2  # a stamp has so many firm glyphs at least; fewer are texture
TOO_MANY = "More figures stand here than one connector has; take a photo of each connector alone."
TORN = "Another stamp goes on in the same line; if both are one, enter its figures together."
OTHER_STRENGTHS = ("GATE", "WLL", "SWL", "MAX", "LOAD", "TEST", "PROOF", "USER")
"""Words before a number that make it no figure of the three directions."""


class Span(Protocol):
    """A run of glyphs that is a mark, a serial or a date, and so no figure."""

    @property
    def places(self) -> frozenset[tuple[int, int]]:
        """Line and position of each glyph."""

    @property
    def mark(self) -> Mark | None:
        """The standard mark, `None` for a serial, a date or half a mark."""

    @property
    def serial(self) -> str | None:
        """The serial or lot string, if it is one."""

    @property
    def note(self) -> str | None:
        """A remark for the person."""


Spotter = Callable[[Sequence[Sequence[Glyph]]], Sequence[Span]]
"""Finds marks in lines of glyphs: `marks.find_spans`."""


@dataclass(frozen=True, slots=True)
class Draft:
    """One stamp as the first reader saw it.

    Attributes:
        lines: in reading order, each the right way round.
        directions: how sure that is, one a line.
        claims: numbers taken for figures.
        loose: numbers that may be strengths but stand at no pictogram.
        other_units: numbers in another unit than kN.
        marks: standard marks.
        serial: serial or lot string.
        notes: remarks for the person.
        crowd: two connectors could not be told apart here.
        taken: line and position of every glyph of a mark, serial or date.
        spot: what found the marks.
        beside: stamps without figures whose marks belong to this one.
        hints: digits and points of the photo too faint to be read.
    """

    lines: tuple[Line, ...]
    directions: tuple[Direction, ...]
    claims: tuple[Claim, ...] = ()
    loose: tuple[Number, ...] = ()
    other_units: tuple[Number, ...] = ()
    marks: tuple[Mark, ...] = ()
    serial: str | None = None
    notes: tuple[str, ...] = ()
    crowd: bool = False
    taken: frozenset[tuple[int, int]] = frozenset()
    spot: Spotter | None = field(default=None, repr=False, compare=False)
    beside: tuple[Draft, ...] = ()
    hints: tuple[Glyph, ...] = ()

    @property
    def glyphs(self) -> tuple[Glyph, ...]:
        """All glyphs in reading order."""
        return tuple(g for line in self.lines for g in line.glyphs)

    @property
    def angle_deg(self) -> float:
        """Direction of reading of the whole stamp."""
        return mean_angle(t for line in self.lines for t in line.tangents_deg)

    @property
    def box(self) -> Quad:
        """Outline of everything on the stamp."""
        return box_around(self.glyphs, self.angle_deg)

    @property
    def has_figures(self) -> bool:
        """Whether anything here speaks of a strength: a number, or pictograms without theirs."""
        signs = sum(
            is_pictogram(g.char) and g.char != "<ring>" and g.confidence >= FIRM
            for g in self.glyphs
        )
        return signs >= 2 or bool(self.claims or self.loose or self.other_units)

    @property
    def is_firm(self) -> bool:
        """Whether enough of it was seen well to be a stamp and not the grain of a bench.

        Grain that looks like glyphs seldom agrees on a direction.
        """
        firm = [g.confidence for g in self.glyphs if g.confidence >= FIRM]
        directed = max(d.evidence for d in self.directions) >= FIRM_EVIDENCE
        clear = sum(firm) >= CLEAR * len(firm)
        return len(firm) >= FEWEST_FIRM and (directed or clear)

    def claim(self, slot: Slot) -> Claim | None:
        """The number taken for a slot."""
        return next((c for c in self.claims if c.slot is slot), None)


def find_stamps(
    glyphs: Iterable[Glyph], size: tuple[int, int], spot: Spotter | None = None
) -> tuple[Draft, ...]:
    """Groups the glyphs of one reader into stamps and reads each.

    Args:
        glyphs: what the reader saw, in any order, in pixels of the upright photo.
        size: (width, height) of the upright photo; glyphs whose centre lies outside are dropped.
        spot: finds marks in lines of glyphs, so that their numbers are not taken for figures.

    Returns:
        One draft a stamp, from the top of the photo downwards; empty if nothing was read.
    """
    inside = [g for g in glyphs if 0 <= g.x <= size[0] and 0 <= g.y <= size[1]]
    seen = without_doubles(inside, HINT)
    read = [g for g in seen if g.confidence >= FAINTEST]
    hints = tuple(
        g for g in seen if g.confidence < FAINTEST and (g.char.isdigit() or g.char == ".")
    )
    lines = [line for line in find_lines(read) if _is_seen(line)]
    drafts = []
    for group in group_lines(lines):
        drafts += _draft_apart([lines[n] for n in group], spot)
    found = _gather([draft for draft in drafts if draft.is_firm])
    parts = torn(found)
    return tuple(
        replace(_crowded(draft, TORN) if n in parts else draft, hints=hints)
        for n, draft in enumerate(found)
    )


def _is_seen(line: Line) -> bool:
    """Whether a line was seen well enough to be looked at; a lone glyph has to be firm."""
    mean = sum(g.confidence for g in line.glyphs) / len(line.glyphs)
    return mean >= (FIRM if len(line.glyphs) == 1 else FIRM_LINE)


def _draft_apart(lines: Sequence[Line], spot: Spotter | None) -> list[Draft]:
    """One draft of a group of lines, or several if it holds more than one impression."""
    whole = read_lines(lines, spot)
    if not _doubled(whole):
        return [whole]
    for reach in (0.6, 0.4, 0.25, 0.15):
        parts = [read_lines([lines[n] for n in group], spot) for group in group_lines(lines, reach)]
        if len(parts) > 1 and not any(_doubled(part) for part in parts):
            return parts
    return [_crowded(whole)]


def _doubled(draft: Draft) -> bool:
    """Whether a slot has two numbers, or more pictograms of a kind than one."""
    return any(c.rival is not None for c in draft.claims) or len(draft.loose) > 3


def _crowded(draft: Draft, note: str = TOO_MANY) -> Draft:
    return replace(draft, notes=(*draft.notes, note), crowd=True)


def fused(draft: Draft, glyphs: Sequence[Glyph]) -> Draft:
    """The draft of the same stamp read from its glyphs together with another reader's."""
    lines = find_lines(without_doubles(fuse(draft.lines, glyphs), FAINTEST))
    return read_lines(lines, draft.spot)


def read_lines(lines: Sequence[Line], spot: Spotter | None) -> Draft:
    """Reads the lines of one stamp: direction, marks, numbers, slots."""
    decided = _in_order(decide(lines))
    turned = [line for line, _ in decided]
    spans = spot([line.glyphs for line in turned]) if spot is not None else ()
    taken = frozenset().union(*(span.places for span in spans))
    numbers = [
        n
        for k, line in enumerate(turned)
        for n in find_numbers(
            line, k, column_cuts(turned, k), frozenset(p for n, p in taken if n == k)
        )
        if not any((k, p) in taken for p in n.places)
    ]
    strengths = [n for n in numbers if n.is_strength_like and not _is_other(n, turned)]
    in_kN: Sequence[Number] = [n for n in strengths if n.unit in (None, "KN")]
    claims = _claims(in_kN, turned)
    whole = with_parts(in_kN, claims, turned)
    if whole != in_kN:
        in_kN, claims = whole, _claims(whole, turned)
    claimed = [c.number for c in claims]
    loose = tuple(
        n
        for n in in_kN
        if n.unit == "KN" and n not in claimed and min(g.confidence for g in n.glyphs) >= FIRM
    )
    return Draft(
        tuple(turned),
        tuple(direction for _, direction in decided),
        claims,
        loose,
        tuple(n for n in numbers if n.unit not in (None, "KN") and not n.attached),
        tuple(s.mark for s in spans if s.mark is not None),
        next((s.serial for s in spans if s.serial), None),
        tuple(s.note for s in spans if s.note),
        taken=taken,
        spot=spot,
    )


def _claims(in_kN: Sequence[Number], lines: Sequence[Line]) -> tuple[Claim, ...]:
    """Numbers to slots: by pictograms and votes; where these are silent, by order or alone."""
    signs = find_signs(lines)
    if len(signs) == 1 and signs[0].glyph.char in ARROWS:
        ordered = _by_order(in_kN, by_order)
        if ordered:  # makers set a bare arrow to each figure or none: a lone one is a glint
            return ordered
    claims = assign(in_kN, lines)
    if claims:
        return completed(claims, in_kN)
    ordered = _by_order(in_kN, by_order)
    if ordered or signs:
        return ordered
    return _by_order(in_kN, pair) or alone(in_kN)


def _by_order(
    in_kN: Sequence[Number], some: Callable[[Sequence[Number]], tuple[Claim, ...]]
) -> tuple[Claim, ...]:
    """Numbers by their order: all there are, all with a unit, or all of one line with one."""
    with_unit = [n for n in in_kN if n.unit == "KN"]
    sets = [in_kN, with_unit]
    sets += [[n for n in in_kN if n.line == k] for k in dict.fromkeys(n.line for n in with_unit)]
    return next((claims for numbers in sets if (claims := some(numbers))), ())


def _is_other(number: Number, lines: Sequence[Line]) -> bool:
    """Whether a word before it says that it is another strength: a gate's, a working load."""
    word = word_before(lines[number.line], number.places[0])
    return any(ends_with(word, other) for other in OTHER_STRENGTHS)


def _in_order(decided: Sequence[tuple[Line, Direction]]) -> list[tuple[Line, Direction]]:
    """Lines from top to bottom, and along, as the stamp is read."""
    angle = mean_angle(t for line, _ in decided for t in line.tangents_deg)
    height = max(line.height_px for line, _ in decided)

    def key(item: tuple[Line, Direction]) -> tuple[int, float]:
        first = item[0].glyphs[len(item[0].glyphs) // 2]
        along, down = in_frame((0.0, 0.0), angle, (first.x, first.y))
        return round(down / height), along

    return sorted(decided, key=key)


def _gather(drafts: Sequence[Draft]) -> list[Draft]:
    """Adds stamps without figures (marks put elsewhere) to the nearest one that has some."""
    with_figures = [d for d in drafts if d.has_figures]
    if not with_figures:
        return [d for d in drafts if d.marks]
    homes: list[list[Draft]] = [[] for _ in with_figures]
    for draft in drafts:
        if not draft.has_figures and draft.marks:
            nearest = min(range(len(with_figures)), key=lambda n: _apart(draft, with_figures[n]))
            homes[nearest].append(draft)
    return [
        replace(
            draft,
            marks=(*draft.marks, *(m for guest in guests for m in guest.marks)),
            serial=draft.serial or next((g.serial for g in guests if g.serial), None),
            beside=tuple(guests),
        )
        for draft, guests in zip(with_figures, homes, strict=True)
    ]


def _apart(a: Draft, b: Draft) -> float:
    return min(distance(g, h) for g in a.glyphs for h in b.glyphs)

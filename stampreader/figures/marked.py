"""The marks of a stamp, from what two readers saw together and what each of them saw by itself."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence

from stampreader.figures.doubles import without_doubles
from stampreader.figures.draft import FAINTEST, Draft, fused
from stampreader.figures.geometry import distance
from stampreader.figures.lines import find_lines
from stampreader.words import Glyph, Mark

NEAR = 1.2
"""A glyph belongs to a stamp if it stands nearer than this, in heights, to one of its glyphs."""

_NAME = re.compile(r"CE|UKCA|[A-Z/ ]*[A-Z]\d+|[A-Z/ ]+\d+|.+")


def marks_of(draft: Draft, joint: Draft | None, glyphs: Sequence[Glyph]) -> tuple[Mark, ...]:
    """The marks of a stamp; of each standard the one with most confidence behind it.

    Args:
        draft: the stamp as the first reader saw it.
        joint: as both readers together saw it; `None` if there is no second one.
        glyphs: what the second reader saw over the whole photo.
    """
    if joint is None:
        return draft.marks
    others = [fused(other, glyphs) for other in draft.beside]
    together = [mark for part in (joint, *others) for mark in part.marks]
    return _one_each([*together, *_alone(draft, glyphs)])


def _alone(draft: Draft, glyphs: Sequence[Glyph]) -> list[Mark]:
    """Marks in the lines of the second reader's own glyphs near a stamp."""
    if draft.spot is None:
        return []
    own = [g for part in (draft, *draft.beside) for g in part.glyphs]
    near = [g for g in glyphs if any(distance(g, o) < NEAR * o.height_px for o in own)]
    lines = find_lines(without_doubles(near, FAINTEST))
    return [span.mark for span in draft.spot([x.glyphs for x in lines]) if span.mark is not None]


def standard_of(text: str) -> str:
    """What a mark names, without number of the body, year or class: `EN 362` of `EN 362:2004`."""
    found = _NAME.match(text)
    return found.group() if found else text


def _one_each(marks: Sequence[Mark]) -> tuple[Mark, ...]:
    seen: dict[str, dict[str, list[Mark]]] = defaultdict(lambda: defaultdict(list))
    for mark in marks:
        seen[standard_of(mark.text)][mark.text].append(mark)
    best = [max(ways.values(), key=_weight) for ways in seen.values()]
    return tuple(max(same, key=lambda mark: mark.confidence) for same in best)


def _weight(same: Sequence[Mark]) -> tuple[float, int]:
    return sum(mark.confidence for mark in same), len(same[0].text)

"""The marks of a stamp from what two readers saw together, in its lines and in those beside it."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence

from stampreader.figures.draft import Draft, fused
from stampreader.words import Glyph, Mark

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
    return _one_each(together)


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

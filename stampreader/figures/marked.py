"""The marks of a stamp from what every reader saw by itself and what they saw together."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from stampreader.figures.draft import FAINTEST, Draft, fused
from stampreader.figures.doubles import without_doubles
from stampreader.figures.lines import find_lines
from stampreader.words import Glyph, Mark

LONE = 0.5
"""Trust in a mark that one way of reading alone gave, where another gave one like it."""

_FAMILY = re.compile(r"CE|UKCA|[A-Z/ ]+[A-Z]?\d+|.+")


def marks_of(draft: Draft, readings: Sequence[Sequence[Glyph]]) -> tuple[Mark, ...]:
    """The marks of a stamp, each kind once.

    Args:
        draft: the stamp as the first reader saw it.
        readings: glyphs of each other reader over the whole photo.
    """
    return chosen(draft.marks + _together(draft, readings) + _by_others(draft, readings))


def _together(draft, readings):
    return tuple(m for g in readings[:1] for d in (draft, *draft.beside) for m in fused(d, g).marks)


def _by_others(draft, readings):
    out = []
    for glyphs in readings:
        lines = find_lines(without_doubles(glyphs, FAINTEST))
        out += [s.mark for s in draft.spot([l.glyphs for l in lines]) if s.mark] if draft.spot else []
    return tuple(out)


def family(text: str) -> str:
    return _FAMILY.match(text).group(0)


def chosen(marks):
    by = defaultdict(lambda: defaultdict(list))
    for m in marks:
        by[family(m.text)][m.text].append(m)
    out = []
    for fam, texts in by.items():
        best = max(texts.values(), key=lambda ms: (sum(m.confidence for m in ms), len(ms[0].text)))
        total = sum(m.confidence for ms in texts.values() for m in ms)
        top = max(best, key=lambda m: m.confidence)
        out.append(top)
    return tuple(out)

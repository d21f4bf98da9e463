"""Figures that several looks at one face give, put together as votes."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace
from decimal import Decimal

from stampreader.figures import Caps
from stampreader.relief import effective
from stampreader.words import NOTHING, SLOTS, Doubt, Figure, Mark, Slot, Stamp, State

LONE_AT = 0.5
"""A value that one look alone gives is proposed from this confidence, or if the look gives the
other figures too."""
FELLOWS = 2
"""So many figures of one look speak for each other."""
RIVAL = 0.5
"""A value with so much of the best one's votes is told as a second value."""


def the_fullest(stamps: Iterable[Stamp]) -> Stamp | None:
    """The stamp with most figures, then with the most confidence; `None` if there is none."""
    return max(stamps, key=fullness, default=None)


def fullness(*stamps: Stamp) -> tuple[int, float]:
    """How many figures stamps propose, and the confidence of all of them together."""
    figures = [stamp.figure(slot) for stamp in stamps for slot in SLOTS]
    seen = [figure.confidence for figure in figures if figure.kN is not None]
    return len(seen), sum(seen)


def put_to_vote(
    together: Stamp | None,
    single: Sequence[Stamp],
    caps: Caps = Caps(),  # noqa: B008 (frozen value)
) -> Stamp | None:
    """One stamp from what was read of all looks together and on each by itself.

    A value needs two looks (all together count as one), or one that is confident or gives other
    figures as well. Its confidence counts the looks that agree as correlated; those that differ
    take from it. Nothing is ever sure.

    Args:
        together: read from the fused glyphs; `None` if that gave nothing.
        single: read on one look each.
        caps: the range of strengths; what lies outside gets no vote.
    """
    looks = [*([together] if together is not None else []), *single]
    base = together if together is not None else the_fullest(looks)
    if base is None:
        return None
    figures = {slot: _elected(slot, looks, base.figure(slot), caps) for slot in SLOTS}
    return replace(
        base,
        closed=figures[Slot.CLOSED],
        cross=figures[Slot.CROSS],
        open=figures[Slot.OPEN],
        marks=_marks(looks),
        serial=next((look.serial for look in looks if look.serial), None),
        notes=tuple(dict.fromkeys(note for look in looks[:1] for note in look.notes)),
    )


def _elected(slot: Slot, looks: Sequence[Stamp], usual: Figure, caps: Caps) -> Figure:
    votes: dict[Decimal, list[tuple[Figure, int]]] = defaultdict(list)
    for look in looks:
        figure = look.figure(slot)
        if figure.kN is not None and caps.in_range(figure.kN):
            votes[figure.kN].append((figure, fullness(look)[0]))
    totals = {kN: sum(max(f.confidence, 0.05) for f, _ in seen) for kN, seen in votes.items()}
    if not totals:
        return usual if usual.kN is None else NOTHING
    best = max(totals, key=lambda kN: totals[kN])
    seen = votes[best]
    alone = len(seen) == 1
    if alone and seen[0][0].confidence < LONE_AT and seen[0][1] < FELLOWS:
        return Figure(None, State.NONE, seen[0][0].confidence, seen[0][0].box, (Doubt.WEAK_GLYPH,))
    rivals = [kN for kN in totals if kN != best and totals[kN] >= RIVAL * totals[best]]
    first = max((f for f, _ in seen), key=lambda f: f.confidence)
    doubts = [*first.doubts, *([Doubt.TWO_VALUES] if rivals else [])]
    sure = _confidence([f.confidence for f, _ in seen]) * totals[best] / sum(totals.values())
    return Figure(best, State.ASK, min(sure, 0.99), first.box, tuple(dict.fromkeys(doubts)))


def _confidence(seen: Sequence[float]) -> float:
    """Of a value that several correlated looks give."""
    weight = effective(len(seen)) / len(seen)
    missed = math.prod(float(1 - min(c, 0.99)) ** weight for c in seen)
    return float(1 - missed)


def _marks(looks: Sequence[Stamp]) -> tuple[Mark, ...]:
    """Marks that two looks give, or all together; the best of each."""
    count: dict[str, int] = defaultdict(int)
    best: dict[str, Mark] = {}
    for look in looks:
        for mark in {mark.text: mark for mark in look.marks}.values():
            count[mark.text] += 1
            if mark.text not in best or mark.confidence > best[mark.text].confidence:
                best[mark.text] = mark
    first = {mark.text for mark in looks[0].marks}
    return tuple(best[text] for text in sorted(best) if count[text] > 1 or text in first)

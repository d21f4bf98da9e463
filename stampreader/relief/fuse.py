"""One reading from many looks at the same face: glyphs seen at one place are put together.

Looks at one face do not err independently: a scratch looks like a stroke in all of them. So
agreement of n looks counts as that of n / (1 + (n - 1) r) independent ones, the effective number
of equally correlated observations (Kish, Survey sampling, 1965, section 5.4), with r = 0.5. From
six looks there are never more than two independent ones.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from stampreader.words import Glyph

CORRELATION = 0.5
"""Taken between looks at one face (common practice, no source)."""
REACH = 0.28
"""Glyphs nearer than so many heights stand at one place; two narrow digits stand 0.45 apart."""
TURNED_DEG = 60.0
"""Directions that differ more are different readings of a place."""
UNTHOUGHT = 0.02
"""Probability of a character a look did not think of."""
ALSO = 0.02
"""Least probability of an alternative that is kept."""
LONE = 0.75
"""Trust in a glyph that one of several looks shows alone."""
SUPPORT = (0.55, 0.12)
"""A place is a glyph if its confidences sum to the first, and to the second of every look."""
MOST = 0.995
"""No glyph is more certain."""

Look = Sequence[Glyph]


@dataclass(slots=True)
class _Place:
    """Glyphs of several looks at one place, one a look."""

    seed: Glyph
    members: list[Glyph]


def fuse_looks(looks: Sequence[Look], reader: str) -> tuple[Glyph, ...]:
    """The glyphs that several looks at one face show together.

    Args:
        looks: glyphs of each look, all in pixels of the same frame.
        reader: name that stands in the glyphs.

    Returns:
        One glyph a place: the character all looks together make likeliest, with the others as
        alternatives. Of readings that cover each other the one with more evidence stays.
    """
    many = len(looks) > 1
    least = max(SUPPORT[0], SUPPORT[1] * len(looks)) if many else 0.0
    glyphs = [
        _fused(place, many)
        for place in _places(looks)
        if sum(g.confidence for g in place.members) >= least
    ]
    return tuple(replace(g, reader=reader) for g in _apart(glyphs))


def effective(count: int) -> float:
    """So many independent looks a number of correlated ones are worth.

    Example: 1 is 1, 2 is 1.33, 6 is 1.71 at a correlation of a half.
    """
    return count / (1 + (count - 1) * CORRELATION)


def _places(looks: Sequence[Look]) -> list[_Place]:
    """Places with at most one glyph of each look, the strongest glyph first."""
    ranked = sorted(
        ((g, k) for k, look in enumerate(looks) for g in look), key=lambda item: -item[0].confidence
    )
    places: list[_Place] = []
    taken: list[set[int]] = []
    for glyph, look in ranked:
        near = [
            n
            for n, place in enumerate(places)
            if look not in taken[n] and _at_one_place(place.seed, glyph)
        ]
        if near:
            best = min(near, key=lambda n: _distance(places[n].seed, glyph))
            places[best].members.append(glyph)
            taken[best].add(look)
        else:
            places.append(_Place(glyph, [glyph]))
            taken.append({look})
    return places


def _distance(a: Glyph, b: Glyph) -> float:
    return math.hypot(a.x - b.x, a.y - b.y)


def _at_one_place(a: Glyph, b: Glyph) -> bool:
    tall = max(a.height_px, b.height_px)
    alike = min(a.height_px, b.height_px) > 0.5 * tall or "." in (a.char, b.char)
    turn = abs((a.angle_deg - b.angle_deg + 180) % 360 - 180)
    return alike and turn <= TURNED_DEG and _distance(a, b) <= REACH * min(a.height_px, b.height_px)


def _fused(place: _Place, many: bool) -> Glyph:
    """The glyph of a place: character, confidence, geometry and role from all its members."""
    members = place.members
    weight = effective(len(members)) / len(members)
    joint = _joint([_chances(g) for g in members], weight)
    best = max(joint, key=lambda c: joint[c])
    seen = 1 - math.prod((1 - min(g.confidence, MOST)) ** weight for g in members)
    trust = LONE if many and len(members) == 1 else 1.0
    kept = tuple(
        (c, p)
        for c, p in sorted(joint.items(), key=lambda item: -item[1])
        if c != best and p >= ALSO
    )
    return replace(
        _middle(members),
        char=best,
        confidence=min(MOST, joint[best] * seen * trust),
        alternatives=kept[:5],
        role=_role(members),
    )


def _chances(glyph: Glyph) -> dict[str, float]:
    """Probabilities of a look's characters, its own and the others it thought of, sum 1."""
    listed = dict(glyph.alternatives)
    own = max(1.0 - sum(listed.values()), glyph.confidence, UNTHOUGHT)
    chances = {**listed, glyph.char: own}
    total = sum(chances.values())
    return {c: p / total for c, p in chances.items()}


def _joint(looks: Sequence[dict[str, float]], weight: float) -> dict[str, float]:
    """Characters by their probability after all looks, each counted with a weight below 1."""
    logs: dict[str, float] = defaultdict(float)
    for char in {c for look in looks for c in look}:
        logs[char] = weight * sum(math.log(max(look.get(char, 0.0), UNTHOUGHT)) for look in looks)
    top = max(logs.values())
    powers = {c: math.exp(v - top) for c, v in logs.items()}
    total = sum(powers.values())
    return {c: p / total for c, p in powers.items()}


def _middle(members: Sequence[Glyph]) -> Glyph:
    """Place, size and direction: the mean of the members, weighted by confidence."""
    weights = np.array([max(g.confidence, 0.01) for g in members])
    weights /= weights.sum()
    x, y, tall, wide = (
        float(weights @ np.array([getattr(g, name) for g in members]))
        for name in ("x", "y", "height_px", "width_px")
    )
    turns = np.exp(1j * np.radians([g.angle_deg for g in members]))
    turn = math.degrees(float(np.angle(weights @ turns))) % 360.0
    return replace(members[0], x=x, y=y, height_px=tall, width_px=wide, angle_deg=turn)


def _role(members: Sequence[Glyph]) -> tuple[float, float, float, float, float] | None:
    roles = [(g.role, g.confidence) for g in members if g.role is not None]
    if not roles:
        return None
    weights = np.array([max(c, 0.01) for _, c in roles])
    mean = (weights / weights.sum()) @ np.array([r for r, _ in roles])
    none, closed, cross, opened, strength = (float(v) for v in mean)
    return none, closed, cross, opened, strength


def _apart(glyphs: Sequence[Glyph]) -> list[Glyph]:
    """Glyphs of which none stands on a better one."""
    kept: list[Glyph] = []
    for glyph in sorted(glyphs, key=lambda g: -g.confidence):
        if all(
            _distance(glyph, k) > REACH * (glyph.height_px + k.height_px) / 2
            or "." in (glyph.char, k.char)
            for k in kept
        ):
            kept.append(glyph)
    return kept

"""One set of glyphs from two readers, for what to propose where they differ.

Nothing fused is ever sure: agreement is judged on what each reader saw by itself. But where the
first reader missed or mistook a glyph, the second often tells which figure to ask about.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from stampreader.figures.geometry import distance, turn_between, unit
from stampreader.figures.lines import RING, Line
from stampreader.words import Glyph

SKIP = 0.9  # cost of a glyph only one of the readers saw
UNLIKE = 0.25  # cost of each nat by which the readers contradict each other on a character
REACH = 0.55  # distance along the line, in heights, that costs as much as a skip
ASIDE = 0.7  # how far off the line, in heights, a glyph may lie
BEYOND = 2.5  # how far past the ends of a line, in heights
ONLY_SECOND = 0.85  # trust in a glyph that the second reader alone saw
ONLY_FIRST = 0.8  # a glyph less probable than this goes if the second reader saw nothing there
FOOT = 0.42  # how far below the middle of a line, in heights, a point stands
SECOND_AT = 0.65  # a glyph less probable than this, seen by the second reader alone, stays out
POINT_AT = 0.4  # the same of a point
UNTHOUGHT = 0.005  # probability of a character a reader did not think of

Placed = tuple[float, Glyph]


def fuse(lines: Sequence[Line], glyphs: Sequence[Glyph]) -> list[Glyph]:
    """The glyphs of lines, completed and corrected with those of another reader near them."""
    left = [g for g in glyphs if g.char != RING]
    near = [_beside(line, left) for line in lines]
    home: dict[int, tuple[float, int]] = {}
    for k, beside in enumerate(near):
        for aside, _, glyph in beside:
            home[id(glyph)] = min(home.get(id(glyph), (aside, k)), (aside, k))
    out: list[Glyph] = []
    for k, (line, beside) in enumerate(zip(lines, near, strict=True)):
        out += _merged(line, [(at, g) for _, at, g in beside if home[id(g)][1] == k])
    return out + _alone(out, [g for g in left if id(g) not in home])


def _alone(found: Sequence[Glyph], left: Sequence[Glyph]) -> list[Glyph]:
    """Glyphs off all lines, seen by the second reader alone, close enough to be of this stamp."""
    return [
        replace(g, confidence=g.confidence * ONLY_SECOND)
        for g in left
        if any(distance(g, f) < 4.0 * f.height_px for f in found)
        and not any(distance(g, f) < 0.6 * f.height_px for f in found)
    ]


def _beside(line: Line, glyphs: Sequence[Glyph]) -> list[tuple[float, float, Glyph]]:
    """Glyphs on a line, read the same way: how far off it, and their place along it, in heights."""
    if not glyphs:
        return []
    stations = np.array(line.stations())
    own = np.array([(g.x, g.y) for g in line.glyphs])
    turn = np.radians(line.tangents_deg)[:, None]
    dx, dy = (
        np.array([(g.x, g.y) for g in glyphs]).T[:, None, :] - own.T[:, :, None]
    ) / line.height_px
    along = dx * np.cos(turn) + dy * np.sin(turn)
    down = dy * np.cos(turn) - dx * np.sin(turn)
    nearest = (np.abs(along) + np.abs(down)).argmin(axis=0)
    every = np.arange(len(glyphs))
    along, down = along[nearest, every], down[nearest, every]
    placed = [
        (abs(float(down[n])), float(stations[nearest[n]] + along[n]), glyphs[n])
        for n in np.flatnonzero((np.abs(down) <= ASIDE) & (np.abs(along) <= BEYOND)).tolist()
        if abs(turn_between(glyphs[n].angle_deg, line.tangents_deg[nearest[n]])) < 60.0
    ]
    return sorted(placed, key=lambda item: item[1])


def _merged(line: Line, beside: Sequence[Placed]) -> Iterator[Glyph]:
    """The line's glyphs after aligning both readings."""
    stations = line.stations()
    first = list(zip(stations, line.glyphs, strict=True))
    for a, b in _aligned(first, beside):
        if a is not None and b is not None:
            yield _agreed(a[1], b[1])
        elif a is not None:
            inside = bool(beside) and beside[0][0] < a[0] < beside[-1][0]
            if not inside or a[1].confidence >= ONLY_FIRST or a[1].char == RING:
                yield a[1]
        elif (
            b is not None
            and b[1].confidence >= (POINT_AT if b[1].char == "." else SECOND_AT)
            and all(abs(b[0] - station) > 0.3 for station in stations)
        ):
            yield _put_on(line, first, b)


def _put_on(line: Line, first: Sequence[Placed], new: Placed) -> Glyph:
    """A glyph of the second reader, in the first reader's size and on its line.

    A reader of lines knows how far along a glyph stands, not how high: a point goes to the foot.
    """
    solid = [k for k in range(len(first)) if first[k][1].char != "."] or [0]
    k = min(solid, key=lambda n: abs(first[n][0] - new[0]))
    ux, uy = unit(line.tangents_deg[k])
    along = (new[0] - first[k][0]) * line.height_px
    down = FOOT * line.height_px if new[1].char == "." else 0.0
    return replace(
        new[1],
        x=first[k][1].x + along * ux - down * uy,
        y=first[k][1].y + along * uy + down * ux,
        height_px=line.height_px if len(new[1].char) == 1 else new[1].height_px,
        angle_deg=line.tangents_deg[k],
        confidence=new[1].confidence * ONLY_SECOND,
    )


def _aligned(
    first: Sequence[Placed], second: Sequence[Placed]
) -> list[tuple[Placed | None, Placed | None]]:
    """Cheapest alignment of two readings of one line (Needleman and Wunsch, 1970)."""
    rows, columns = len(first), len(second)
    cost = [[0.0] * (columns + 1) for _ in range(rows + 1)]
    for i in range(rows + 1):
        for j in range(columns + 1):
            ways = [cost[i - 1][j] + SKIP] if i else []
            ways += [cost[i][j - 1] + SKIP] if j else []
            ways += (
                [cost[i - 1][j - 1] + _pair_cost(first[i - 1], second[j - 1])] if i and j else []
            )
            cost[i][j] = min(ways, default=0.0)
    pairs: list[tuple[Placed | None, Placed | None]] = []
    i, j = rows, columns
    while i or j:
        if i and j and cost[i][j] == cost[i - 1][j - 1] + _pair_cost(first[i - 1], second[j - 1]):
            i, j = i - 1, j - 1
            pairs.append((first[i], second[j]))
        elif i and cost[i][j] == cost[i - 1][j] + SKIP:
            i -= 1
            pairs.append((first[i], None))
        else:
            j -= 1
            pairs.append((None, second[j]))
    return pairs[::-1]


def _pair_cost(a: Placed, b: Placed) -> float:
    joint = _together(a[1], b[1])
    unlike = -math.log(max(joint.values()))
    return UNLIKE * unlike + SKIP * abs(a[0] - b[0]) / REACH


def _together(a: Glyph, b: Glyph) -> dict[str, float]:
    """How probable each character is by both readings."""
    of_a = {a.char: a.confidence, **dict(a.alternatives)}
    of_b = {b.char: b.confidence, **dict(b.alternatives)}
    return {
        c: max(of_a.get(c, 0.0), UNTHOUGHT) * max(of_b.get(c, 0.0), UNTHOUGHT)
        for c in {**of_a, **of_b}
    }


def _agreed(a: Glyph, b: Glyph) -> Glyph:
    """The character both readings make likeliest together, at the first reader's place."""
    joint = _together(a, b)
    total = sum(joint.values())
    best = max(joint, key=lambda c: (joint[c], c == a.char))
    rest = tuple((c, p / total) for c, p in joint.items() if c != best)
    return replace(a, char=best, confidence=joint[best] / total, alternatives=rest)

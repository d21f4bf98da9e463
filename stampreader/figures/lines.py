"""Glyphs to lines: what stands on one baseline, straight or curved.

All distances are measured in glyph heights and in the frame of the text itself, so turning,
moving or scaling a photo changes nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from stampreader.figures.geometry import (
    distance,
    in_frame,
    mean_axis,
    median,
    turn_between,
)
from stampreader.words import Glyph

CARRIED = 20.0  # degrees an arc may turn from one glyph to the next
DOTS = frozenset(".")
FLAT = frozenset("-:")
RING = "<ring>"
ARROWS = frozenset({"<along>", "<across>"})  # pictograms without the outline of a connector

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Line:
    """Glyphs on one baseline, straight or curved.

    Attributes:
        glyphs: in reading order, once the direction is decided; else in either order.
        tangents_deg: direction of the line at each glyph, following the order of `glyphs`.
        height_px: height of a capital.
        rings: glyph positions that have a ring drawn round them.
    """

    glyphs: tuple[Glyph, ...]
    tangents_deg: tuple[float, ...]
    height_px: float
    rings: frozenset[int] = frozenset()

    @property
    def angle_deg(self) -> float:
        """Direction of the middle of the line."""
        return self.tangents_deg[len(self.tangents_deg) // 2]

    def reversed(self) -> Line:
        """The same line read the other way."""
        last = len(self.glyphs) - 1
        return Line(
            self.glyphs[::-1],
            tuple((t + 180.0) % 360.0 for t in reversed(self.tangents_deg)),
            self.height_px,
            frozenset(last - place for place in self.rings),
        )

    def stations(self) -> list[float]:
        """Place of each glyph along the line, in glyph heights from its first."""
        places = [0.0]
        for k in range(1, len(self.glyphs)):
            a, b = self.glyphs[k - 1], self.glyphs[k]
            along, _ = in_frame((a.x, a.y), self.tangents_deg[k - 1], (b.x, b.y))
            places.append(places[-1] + along / self.height_px)
        return places

    def gap_after(self, place: int) -> float:
        """Free space between a glyph and the next, in glyph heights (negative: they overlap)."""
        a, b = self.glyphs[place], self.glyphs[place + 1]
        along, _ = in_frame((a.x, a.y), self.tangents_deg[place], (b.x, b.y))
        return (abs(along) - (a.width_px + b.width_px) / 2) / self.height_px


def is_pictogram(char: str) -> bool:
    """Whether a glyph name is a pictogram's."""
    return char.startswith("<")


def find_lines(glyphs: Sequence[Glyph]) -> tuple[Line, ...]:
    """Chains glyphs to baselines; their order along the line may still be upside down.

    Three passes: axes as the reader gave them, then smoothed along the chains found, so that
    noise of ten degrees and glyphs taken upside down do not break a line.
    """
    rings = [g for g in glyphs if g.char == RING]
    dots = [g for g in glyphs if g.char in DOTS]
    solid = [g for g in glyphs if g.char != RING and g.char not in DOTS]
    axes = [g.angle_deg % 180.0 for g in solid]
    chains: list[list[int]] = []
    for _ in range(3):
        chains = _chain(solid, axes)
        axes = _smooth(solid, axes, chains)
    lines = [_line([solid[i] for i in chain], [axes[i] for i in chain]) for chain in chains]
    return tuple(_add_rings(_add_dots(lines, dots), rings))


def _chain(glyphs: Sequence[Glyph], axes: Sequence[float]) -> list[list[int]]:
    """Paths of neighbours: the cheapest links first, each glyph one link a side, no rings."""
    links = sorted(_links(glyphs, axes))
    beside: list[dict[int, int]] = [{} for _ in glyphs]
    root = list(range(len(glyphs)))

    def top(i: int) -> int:
        while root[i] != i:
            root[i] = root[root[i]]
            i = root[i]
        return i

    for _, i, side_i, j, side_j in links:
        if side_i in beside[i] or side_j in beside[j] or top(i) == top(j):
            continue
        beside[i][side_i], beside[j][side_j] = j, i
        root[top(i)] = top(j)
    return _paths(beside)


def _paths(beside: Sequence[dict[int, int]]) -> list[list[int]]:
    paths, seen = [], set()
    for start in range(len(beside)):
        if start in seen or len(beside[start]) == 2:
            continue
        path, came = [start], -1
        while True:
            onward = [j for j in beside[path[-1]].values() if j != came]
            if not onward:
                break
            came = path[-1]
            path.append(onward[0])
        seen.update(path)
        paths.append(path)
    return paths


def _links(
    glyphs: Sequence[Glyph], axes: Sequence[float]
) -> list[tuple[float, int, int, int, int]]:
    """Possible neighbours: cost, glyph, its side (+1 or -1 along its axis), glyph, its side."""
    i, j = close_pairs(glyphs)
    x, y, wide, tall = (column(glyphs, k) for k in ("x", "y", "width_px", "height_px"))
    sign = np.array([is_pictogram(g.char) for g in glyphs], bool)
    flat = np.array([g.char in FLAT for g in glyphs], bool)
    size = _common_height(tall[i], tall[j], sign[i], sign[j], flat[i] | flat[j])
    turn = np.radians(np.asarray(axes))
    apart = (turn[j] - turn[i] + np.pi / 2) % np.pi - np.pi / 2
    mean = turn[i] + apart / 2
    dx, dy = x[j] - x[i], y[j] - y[i]
    along = (dx * np.cos(mean) + dy * np.sin(mean)) / size
    down = (dy * np.cos(mean) - dx * np.sin(mean)) / size
    slack = np.where(sign[i] | sign[j] | flat[i] | flat[j], 0.0, np.abs(tall[i] - tall[j]) / 2)
    gap = np.abs(along) - (wide[i] + wide[j]) / 2 / size
    off = np.maximum(np.abs(down) - slack / size, 0.0)
    tilt = np.degrees(np.abs(apart))
    fits = (gap > -0.45) & (gap < 2.6) & (off <= 0.35 + 0.12 * np.abs(along)) & (tilt <= 35.0)
    uneven = np.abs(np.log(tall[i] / tall[j]))
    cost = np.maximum(gap, 0.0) + 2.0 * off + tilt / 40.0 + 0.5 * uneven
    side_i = np.where((along > 0) == (np.cos(turn[i] - mean) >= 0), 1, -1)
    side_j = np.where((along < 0) == (np.cos(turn[j] - mean) >= 0), 1, -1)
    columns = (cost, i, side_i, j, side_j)
    return list(zip(*(c[fits & np.isfinite(size)].tolist() for c in columns), strict=True))


def column(glyphs: Sequence[Glyph], name: str) -> Array:
    """One number of every glyph, such as `x` or `height_px`, as an array."""
    return np.array([getattr(g, name) for g in glyphs], float)


def close_pairs(glyphs: Sequence[Glyph]) -> tuple[Indices, Indices]:
    """Pairs of glyphs no farther apart than six heights of the larger one."""
    x, y, tall = (column(glyphs, k) for k in ("x", "y", "height_px"))
    reach = 6.0 * np.maximum(tall[:, None], tall[None, :])
    close = np.hypot(x[:, None] - x[None, :], y[:, None] - y[None, :]) <= reach
    first, second = np.nonzero(np.triu(close, 1))
    return first, second


def _common_height(a: Array, b: Array, sign_a: Flags, sign_b: Flags, flat: Flags) -> Array:
    """Height of the line two glyphs may share; NaN if their sizes do not go together.

    A dash tells little of its line's height, a pictogram may be larger or smaller than text, and
    units and marks are often set smaller than the figures before them.
    """
    ratio = np.maximum(a, b) / np.minimum(a, b)
    mixed = sign_a != sign_b
    size = np.where(mixed, np.where(sign_a, b, a), np.sqrt(a * b))
    size = np.where(flat, np.maximum(a, b), size)
    most = np.where(flat, 6.0, np.where(mixed, 3.2, 2.4))
    return np.where(ratio < most, size, np.nan)


def _smooth(
    glyphs: Sequence[Glyph], axes: Sequence[float], chains: Sequence[Sequence[int]]
) -> list[float]:
    """Axis at each glyph from its neighbours on the chain; lone glyphs keep their own.

    Inside a chain as many neighbours to either side are taken, so that an arc does not bias the
    axis; at the ends the turn of the last but one glyphs is carried on.
    """
    smoothed = list(axes)
    for chain in chains:
        last = len(chain) - 1
        for place, i in enumerate(chain):
            side = min(place, last - place, 2)
            if side:
                smoothed[i] = _axis_of([glyphs[k] for k in chain[place - side : place + side + 1]])
        if last == 1:
            both = _axis_of([glyphs[k] for k in chain])
            smoothed[chain[0]] = smoothed[chain[1]] = both
        elif last > 1:
            for end, near, far in ((0, 1, 2), (last, last - 1, last - 2)):
                turn = _axis_turn(smoothed[chain[far]], smoothed[chain[near]]) if last > 2 else 0.0
                turn = max(-CARRIED, min(CARRIED, turn))
                smoothed[chain[end]] = (smoothed[chain[near]] + turn) % 180.0
    return smoothed


def _axis_turn(a_deg: float, b_deg: float) -> float:
    """Turn from one axis to another, in (-90, 90]."""
    turn = (b_deg - a_deg) % 180.0
    return turn - 180.0 if turn > 90.0 else turn


def _axis_of(glyphs: Sequence[Glyph]) -> float:
    """Axis of a short run: the mean of its glyphs' own axes and of the chord from end to end."""
    own = mean_axis(g.angle_deg for g in glyphs)
    first, last = glyphs[0], glyphs[-1]
    spread = distance(first, last) / max(first.height_px, last.height_px)
    chord = math.degrees(math.atan2(last.y - first.y, last.x - first.x))
    return mean_axis((own, chord), (1.0, min(spread, 4.0)))


def _line(glyphs: Sequence[Glyph], axes: Sequence[float]) -> Line:
    """A line with tangents that follow the order of the glyphs."""
    tangents = []
    for place, axis in enumerate(axes):
        if len(glyphs) == 1:
            tangents.append(glyphs[0].angle_deg % 360.0)
            continue
        a, b = glyphs[max(place - 1, 0)], glyphs[min(place + 1, len(glyphs) - 1)]
        chord = math.degrees(math.atan2(b.y - a.y, b.x - a.x))
        tangents.append(axis if abs(turn_between(axis, chord)) <= 90.0 else (axis + 180.0) % 360.0)
    return Line(tuple(glyphs), tuple(tangents), line_height(glyphs))


def line_height(glyphs: Sequence[Glyph]) -> float:
    """Height of a digit, else of a letter, else of a pictogram: the middle value."""
    digits = [g.height_px for g in glyphs if g.char.isdigit()]
    letters = [g.height_px for g in glyphs if g.char.isalpha()]
    return median(digits or letters or [g.height_px for g in glyphs])


def _add_dots(lines: Sequence[Line], dots: Sequence[Glyph]) -> list[Line]:
    """Puts each dot between the two glyphs, or at the end of the line, where it fits best."""
    out = list(lines)
    for dot in sorted(dots, key=lambda g: (-g.confidence, g.x, g.y)):
        best = min(
            (
                (cost, n, place)
                for n, line in enumerate(out)
                for cost, place in _dot_places(line, dot)
            ),
            default=None,
        )
        if best is not None:
            _, n, place = best
            out[n] = _insert(out[n], dot, place)
    return out


def _dot_places(line: Line, dot: Glyph) -> Iterable[tuple[float, int]]:
    """Cost and place of insertion behind each glyph of a line a dot could follow."""
    for place, glyph in enumerate(line.glyphs):
        if is_pictogram(glyph.char) or glyph.char in DOTS:
            continue
        tangent = line.tangents_deg[place]
        along, down = in_frame((glyph.x, glyph.y), tangent, (dot.x, dot.y))
        along, down = along / line.height_px, down / line.height_px
        reach = glyph.width_px / line.height_px / 2
        if abs(down) < 0.8 and reach - 0.25 < abs(along) < reach + 1.0:
            yield abs(along) + 0.5 * abs(abs(down) - 0.4), place + (1 if along > 0 else 0)


def _insert(line: Line, glyph: Glyph, place: int) -> Line:
    tangent = line.tangents_deg[min(place, len(line.glyphs) - 1)]
    return Line(
        (*line.glyphs[:place], glyph, *line.glyphs[place:]),
        (*line.tangents_deg[:place], tangent, *line.tangents_deg[place:]),
        line.height_px,
        frozenset(p + 1 if p >= place else p for p in line.rings),
    )


def _add_rings(lines: Sequence[Line], rings: Sequence[Glyph]) -> list[Line]:
    """Notes which letters stand in a ring."""
    out = list(lines)
    for ring in rings:
        for n, line in enumerate(out):
            inside = [
                place
                for place, g in enumerate(line.glyphs)
                if len(g.char) == 1 and distance(g, ring) < 0.45 * max(ring.height_px, g.height_px)
            ]
            if inside:
                out[n] = replace(line, rings=line.rings | set(inside))
    return out

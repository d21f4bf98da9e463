"""Where a row of pictograms above or below parts a row of digits into numbers."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from stampreader.figures.geometry import in_frame
from stampreader.figures.lines import RING, Line, is_pictogram
from stampreader.words import Glyph

NEAREST, FARTHEST = 0.6, 4.0  # how far above or below a pictogram stands, in heights


def column_cuts(lines: Sequence[Line], index: int) -> frozenset[int]:
    """Places of a line behind which a new column begins.

    Between two neighbouring pictograms of a row above or below, digits that follow each other
    without anything between are cut at their widest space.
    """
    line = lines[index]
    stations = line.stations()
    signs = [
        g
        for n, other in enumerate(lines)
        if n != index
        for g in other.glyphs
        if is_pictogram(g.char) and g.char != RING
    ]
    placed = [_station(line, stations, sign) for sign in signs]
    cuts: set[int] = set()
    for above in (True, False):
        row = sorted(
            s
            for s, down in placed
            if (down < 0) == above and _is_beside(down) and -0.5 < s < stations[-1] + 0.5
        )
        for left, right in pairwise(row):
            cut = _widest(line, stations, left, right)
            if cut is not None:
                cuts.add(cut)
    return frozenset(cuts)


def _is_beside(down: float) -> bool:
    return NEAREST < abs(down) < FARTHEST


def _station(line: Line, stations: Sequence[float], sign: Glyph) -> tuple[float, float]:
    """Place of a pictogram along a line and below it, in heights."""
    best = min(
        (
            (abs(along), stations[k] + along / line.height_px, down / line.height_px)
            for k, g in enumerate(line.glyphs)
            for along, down in [
                in_frame((g.x, g.y), line.tangents_deg[k], (sign.x, sign.y)),
            ]
        )
    )
    return best[1], best[2]


def _widest(line: Line, stations: Sequence[float], left: float, right: float) -> int | None:
    """The widest space between digits whose middle lies between two pictograms' middles."""
    inside = [
        k for k in range(len(line.glyphs) - 1) if left < (stations[k] + stations[k + 1]) / 2 < right
    ]
    between = [k for k in inside if _is_figure(line, k) and _is_figure(line, k + 1)]
    if len(between) != len(inside) or not between:
        return None
    return max(between, key=lambda k: (line.gap_after(k), -abs(stations[k] - (left + right) / 2)))


def _is_figure(line: Line, place: int) -> bool:
    return line.glyphs[place].char.isdigit() or line.glyphs[place].char == "."

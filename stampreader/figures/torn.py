"""Stamps that may be one, torn apart by what could not be seen between its parts."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from stampreader.figures.geometry import in_frame, turn_between
from stampreader.figures.lines import Line

if TYPE_CHECKING:
    from collections.abc import Sequence

    from stampreader.figures.draft import Draft

GAP = 15.0  # heights between two lines that may be one
ASIDE = 0.8  # heights the second may lie beside the first
BENT = 15.0  # degrees between their directions
LIKE = 1.5  # factor between their heights


def torn(drafts: Sequence[Draft]) -> set[int]:
    """Places of drafts with figures of which another goes on in the same line.

    Two connectors seldom lie so; one whose middle is worn or in glare often looks so.
    """
    claimed = enumerate(map(_claimed, drafts))
    out: set[int] = set()
    for (m, first), (n, second) in combinations(claimed, 2):
        if any(_follows(a, b) or _follows(b, a) for a in first for b in second):
            out |= {m, n}
    return out


def _claimed(draft: Draft) -> list[Line]:
    """Lines a figure stands in."""
    return [draft.lines[k] for k in sorted({claim.number.line for claim in draft.claims})]


def _follows(a: Line, b: Line) -> bool:
    """Whether the second line goes on where the first one ends."""
    end, start = a.glyphs[-1], b.glyphs[0]
    low, high = sorted((a.height_px, b.height_px))
    along, down = in_frame((end.x, end.y), a.tangents_deg[-1], (start.x, start.y))
    return (
        0.0 < along < GAP * high
        and abs(down) < ASIDE * high
        and abs(turn_between(a.tangents_deg[-1], b.tangents_deg[0])) < BENT
        and high < LIKE * low
    )

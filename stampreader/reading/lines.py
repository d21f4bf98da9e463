"""The lines of a stamp as faces, for readers that look a second time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from stampreader.figures import Draft
from stampreader.spine import Face, face_along
from stampreader.words import Glyph, Quad

BORDER = 0.45
"""Space left round a line, in heights of its capitals."""
DIRECTION_KNOWN = 2.0
"""Evidence in nats from which a line is read one way round only (about 7 to 1)."""


def line_faces(draft: Draft) -> Iterator[Face]:
    """The lines of a draft, and of the marks beside it, as faces in their reading direction."""
    for part in (draft, *draft.beside):
        for line, direction in zip(part.lines, part.directions, strict=True):
            yield Face(
                quad=_quad(line.glyphs, line.angle_deg, BORDER * line.height_px),
                angle_deg=line.angle_deg % 360.0,
                glyph_px=line.height_px,
                score=sum(g.confidence for g in line.glyphs) / len(line.glyphs),
                directed=direction.evidence >= DIRECTION_KNOWN,
                baseline=tuple((g.x, g.y) for g in line.glyphs),
            )


def _quad(glyphs: Sequence[Glyph], angle_deg: float, border_px: float) -> Quad:
    """The rectangle along a direction that holds glyphs and a border."""
    turn = np.radians(angle_deg)
    axes = np.array([(np.cos(turn), np.sin(turn)), (-np.sin(turn), np.cos(turn))])
    places = np.array([(g.x, g.y) for g in glyphs]) @ axes.T
    half = np.array([(g.width_px, g.height_px) for g in glyphs]) / 2 + border_px
    low, high = (places - half).min(axis=0), (places + half).max(axis=0)
    x, y = ((low + high) / 2) @ axes
    length, height = high - low
    return face_along((float(x), float(y)), float(length), float(height), angle_deg)

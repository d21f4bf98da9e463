"""Two glyphs on one place: the surer one stays, the other becomes its alternative."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from stampreader.figures.geometry import distance, in_frame
from stampreader.figures.lines import DOTS, RING, close_pairs, is_pictogram
from stampreader.words import Glyph

MOST_GLYPHS = 1200  # a photo with more is a page of print; the surest are looked at

COLON = 0.6  # share of a colon's height within which a point is one of its two
INSIDE = 0.6  # share of a character's width and height, from its middle, that belongs to it alone


def without_doubles(glyphs: Iterable[Glyph], floor: float) -> tuple[Glyph, ...]:
    """Drops faint glyphs, and the weaker of two that lie on the same place.

    The weaker glyph stays as an alternative of the stronger one. A ring may lie on its letter.
    """
    ranked = sorted(
        (g for g in glyphs if g.confidence >= floor and g.height_px > 0),
        key=lambda g: -g.confidence,
    )[:MOST_GLYPHS]
    near: dict[int, list[int]] = {}
    for strong, weak in zip(*(pairs.tolist() for pairs in close_pairs(ranked)), strict=True):
        near.setdefault(weak, []).append(strong)
    kept: dict[int, Glyph] = {}
    for n, glyph in enumerate(ranked):
        over = next((m for m in near.get(n, ()) if m in kept and _same_place(glyph, kept[m])), None)
        if over is None:
            kept[n] = glyph
        elif glyph.char == ":" and kept[over].char in DOTS:  # one of its two points
            kept[over] = _with_alternative(glyph, kept[over])
        else:
            kept[over] = _with_alternative(kept[over], glyph)
    return tuple(kept.values())


def _same_place(weak: Glyph, strong: Glyph) -> bool:
    if RING in (weak.char, strong.char) and weak.char != strong.char:
        return False
    if not (is_pictogram(weak.char) or is_pictogram(strong.char)) and _inside(weak, strong):
        return True
    if (weak.char in DOTS) != (strong.char in DOTS):
        reach = COLON if ":" in (weak.char, strong.char) else 0.25
        return distance(weak, strong) < reach * max(weak.height_px, strong.height_px)
    wide = (
        max(weak.width_px, strong.width_px)
        if is_pictogram(weak.char) or is_pictogram(strong.char)
        else min(weak.width_px, strong.width_px)
    )
    reach = min(0.45 * wide, 0.5 * max(weak.height_px, strong.height_px))
    return distance(weak, strong) < reach


def _inside(weak: Glyph, strong: Glyph) -> bool:
    """Whether a character is a part of a wider one, as the bars of an N are no I."""
    if weak.width_px >= strong.width_px and weak.height_px >= strong.height_px:
        return False
    along, down = in_frame((strong.x, strong.y), strong.angle_deg, (weak.x, weak.y))
    return abs(along) < INSIDE * strong.width_px and abs(down) < INSIDE * strong.height_px


def _with_alternative(glyph: Glyph, weak: Glyph) -> Glyph:
    if weak.char == glyph.char or any(char == weak.char for char, _ in glyph.alternatives):
        return glyph
    share = min(weak.confidence, 1.0 - glyph.confidence)
    return replace(glyph, alternatives=(*glyph.alternatives, (weak.char, share)))

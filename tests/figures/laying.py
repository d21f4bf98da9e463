"""Stamps written down in a line of text, as glyphs, for table tests."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import replace

from stampreader.figures import Caps, find_stamps, judge
from stampreader.marks import find_spans
from stampreader.words import SLOTS, Glyph, Stamp, State

SIGNS = {"C": "<closed>", "X": "<cross>", "O": "<open>", "=": "<along>", "#": "<across>"}
SIZE = (4000, 4000)
_TOKEN = re.compile(r"\{(.)\}|(.)")
WIDTHS = {".": 0.2, "1": 0.4, "I": 0.25, "-": 0.4, ":": 0.2, "/": 0.45}


def lay(
    text: str,
    x: float = 1500.0,
    y: float = 1500.0,
    height: float = 30.0,
    angle: float = 0.0,
    confidence: float = 0.98,
    space: float = 0.8,
    role: int | None = None,
) -> list[Glyph]:
    """Glyphs of one line of text beginning at (x, y).

    `{C}`, `{X}`, `{O}` are the outlines loaded closed, across and with the gate open, `{=}` and
    `{#}` the bare arrows; a blank is `space` heights wide; `k` is the class `K`.
    """
    glyphs = []
    along = 0.0
    for sign, char in _TOKEN.findall(text):
        if char == " ":
            along += space * height
            continue
        name = SIGNS[sign] if sign else ("K" if char == "k" else char)
        wide = (1.6 if sign else WIDTHS.get(char, 0.6)) * height
        tall = (1.2 if sign else 1.0) * height
        drop = 0.42 * height if char == "." else 0.0
        glyphs.append(_glyph(name, along + wide / 2, drop, tall, wide, confidence))
        along += wide + 0.15 * height
    voted = [replace(g, role=_vote(role)) if g.char.isdigit() else g for g in glyphs]
    return [_moved(g, x, y, angle) for g in voted]


def _glyph(
    char: str, along: float, down: float, tall: float, wide: float, confidence: float
) -> Glyph:
    return Glyph(char, along, down, tall, wide, 0.0, confidence)


def _vote(role: int | None) -> tuple[float, float, float, float, float] | None:
    if role is None:
        return None
    votes = [0.01] * 5
    votes[role] = 0.96
    return votes[0], votes[1], votes[2], votes[3], votes[4]


def _moved(glyph: Glyph, x: float, y: float, angle: float) -> Glyph:
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    return replace(
        glyph,
        x=x + glyph.x * c - glyph.y * s,
        y=y + glyph.x * s + glyph.y * c,
        angle_deg=(glyph.angle_deg + angle) % 360.0,
    )


def transformed(
    glyphs: Sequence[Glyph], turn: float = 0.0, scale: float = 1.0, dx: float = 0.0, dy: float = 0.0
) -> list[Glyph]:
    """Glyphs turned about the middle of the picture, scaled and moved."""
    out = []
    for g in glyphs:
        about = replace(g, x=(g.x - 2000) * scale, y=(g.y - 2000) * scale)
        moved = _moved(about, 2000 + dx, 2000 + dy, turn)
        out.append(replace(moved, height_px=g.height_px * scale, width_px=g.width_px * scale))
    return out


def upside_down_glyphs(glyphs: Sequence[Glyph], turned: dict[str, str]) -> list[Glyph]:
    """The same ink as a reader sees it that takes the stamp the wrong way round."""
    return [
        replace(g, char=turned.get(g.char, g.char), angle_deg=(g.angle_deg + 180.0) % 360.0)
        for g in glyphs
    ]


def judged(
    first: Sequence[Glyph], second: Sequence[Glyph] | None = None, caps: Caps | None = None
) -> Stamp:
    """The only stamp, with a second reader that saw the same unless told otherwise."""
    (draft,) = find_stamps(first, SIZE, find_spans)
    return judge(draft, {"line": first if second is None else second}, caps or Caps())


def states(stamp: Stamp) -> list[State]:
    """States of closed, cross and open."""
    return [stamp.figure(slot).state for slot in SLOTS]


def values(stamp: Stamp) -> list[str | None]:
    """Values of closed, cross and open as text."""
    return [None if (v := stamp.figure(slot).kN) is None else str(v) for slot in SLOTS]


def without(glyphs: Sequence[Glyph], *places: int) -> list[Glyph]:
    """Glyphs less those at some places."""
    return [g for k, g in enumerate(glyphs) if k not in places]


def changed(glyphs: Sequence[Glyph], place: int, **how: object) -> list[Glyph]:
    """Glyphs with one changed."""
    return [replace(g, **how) if k == place else g for k, g in enumerate(glyphs)]

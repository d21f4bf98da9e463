"""How much a likeness or an unlikeness says, in honest words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

import cv2

from stampreader.likeness.colour import COLOURED, GREY, Tint
from stampreader.likeness.outline import Outline

HUE_NEAR_DEG, HUE_FAR_DEG = 22.0, 50.0
"""Hues this near are one colour under two lamps; this far they are not (common practice, no
source)."""
RATIO_NEAR, RATIO_FAR = 0.04, 0.12
"""Relative difference of length by width: a slightly slanted photo gives the first."""
SIZE_NEAR, SIZE_FAR = 0.025, 0.06
"""Relative difference of length on a photo sheet: the height of the metal above the paper gives
about two in a hundred."""
SHAPE_NEAR, SHAPE_FAR = 0.06, 0.25
"""Distance of outlines by their Hu moments (Hu 1962)."""


class Speaks(StrEnum):
    """What one comparison says of it being the same connector."""

    FOR = "supports"
    AGAINST = "contradicts"
    NEITHER = "cannot tell"


@dataclass(frozen=True, slots=True)
class Likeness:
    """One thing compared.

    Attributes:
        field: `outline`, `size`, `gate` or `colour`.
        before, now: both in words.
        speaks: for it, against it, or neither.
        why: how much that says.
    """

    field: str
    before: str
    now: str
    speaks: Speaks
    why: str


def compare_tints(before: Tint | None, now: Tint | None) -> Likeness:
    """Compare the colour of the metal or anodising."""
    if before is None or now is None:
        return Likeness("colour", _said(before), _said(now), Speaks.NEITHER, "no colour to compare")
    apart = abs((before.hue_deg - now.hue_deg + 180.0) % 360.0 - 180.0)
    both = before.chroma >= COLOURED and now.chroma >= COLOURED
    neither = before.chroma < GREY and now.chroma < GREY
    if both and apart >= HUE_FAR_DEG:
        speaks, why = (
            Speaks.AGAINST,
            "clearly: anodising fades and rubs off, but does not change so",
        )
    elif both and apart <= HUE_NEAR_DEG:
        speaks, why = Speaks.FOR, "a little: many connectors share this colour"
    elif neither:
        speaks, why = Speaks.FOR, "hardly: most connectors are of bare metal"
    elif before.chroma >= COLOURED and now.chroma < GREY:
        speaks, why = Speaks.NEITHER, "anodising may have worn off here"
    elif before.chroma < GREY and now.chroma >= COLOURED:
        speaks, why = Speaks.AGAINST, "it was not coloured; or the light was"
    else:
        speaks, why = Speaks.NEITHER, "light of another colour could make this difference"
    return Likeness("colour", before.name, now.name, speaks, why)


def _said(tint: Tint | None) -> str:
    return "not seen" if tint is None else tint.name


def compare_outlines(before: Outline | None, now: Outline | None) -> Iterator[Likeness]:
    """Compare shape, size and gate of whole connectors; one line where one is not seen whole."""
    if before is None or now is None:
        words = ["seen whole" if o is not None else "not seen whole" for o in (before, now)]
        why = "a photo of the whole connector on a plain ground would tell shape, size and gate"
        yield Likeness("outline", words[0], words[1], Speaks.NEITHER, why)
        return
    yield _shape(before, now)
    yield _size(before, now)
    same = before.gate is now.gate
    why = (
        "a little: many have one alike" if same else "clearly, if both gates are shut in the photos"
    )
    yield Likeness(
        "gate", before.gate.value, now.gate.value, Speaks.FOR if same else Speaks.AGAINST, why
    )


def _shape(before: Outline, now: Outline) -> Likeness:
    ratio = abs(before.ratio / now.ratio - 1)
    moments = float(cv2.matchShapes(before.contour, now.contour, cv2.CONTOURS_MATCH_I1, 0))
    words = [f"length {o.ratio:.2f} × width, {o.opening:.0%} open" for o in (before, now)]
    if ratio <= RATIO_NEAR and moments <= SHAPE_NEAR:
        speaks, why = Speaks.FOR, "a little: connectors of one model are alike"
    elif ratio >= RATIO_FAR or moments >= SHAPE_FAR:
        speaks, why = Speaks.AGAINST, "clearly, unless a photo was taken very much from the side"
    else:
        speaks, why = Speaks.NEITHER, "a slanted photo could make this difference"
    return Likeness("outline", words[0], words[1], speaks, why)


def _size(before: Outline, now: Outline) -> Likeness:
    if before.length_mm is None or now.length_mm is None:
        words = [
            "unknown" if o.length_mm is None else f"{o.length_mm:.0f} mm" for o in (before, now)
        ]
        why = "only a photo on the photo sheet tells the size"
        return Likeness("size", words[0], words[1], Speaks.NEITHER, why)
    apart = abs(before.length_mm / now.length_mm - 1)
    speaks, why = (
        Speaks.NEITHER,
        "the height of the metal above the sheet could make this difference",
    )
    if apart <= SIZE_NEAR:
        speaks, why = Speaks.FOR, "a little: connectors of one model are alike"
    elif apart >= SIZE_FAR:
        speaks, why = Speaks.AGAINST, "clearly"
    return Likeness("size", f"{before.length_mm:.0f} mm", f"{now.length_mm:.0f} mm", speaks, why)

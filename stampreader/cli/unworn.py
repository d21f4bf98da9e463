"""What does not wear, for `verify`: the photos of now against the register's evidence pictures."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import cv2
import numpy as np

from stampreader.likeness import (
    Gate,
    Likeness,
    Outline,
    Speaks,
    Tint,
    compare_outlines,
    compare_tints,
    find_outline,
    find_tint,
)
from stampreader.register import Connector, Register, read_crop

if TYPE_CHECKING:
    from stampreader.photo import Photo
    from stampreader.reading import StackReading

LOCKED = ("screw", "lock", "twist", "auto", "sleeve")
"""Words of the register's `gate` that tell of a sleeve."""


def unworn(
    register: Register, connector: Connector, photos: Sequence[Photo], found: StackReading | None
) -> tuple[Likeness, ...]:
    """Compare outline, size, gate and colour with what the register keeps of a connector.

    Args:
        register: holds the evidence pictures.
        connector: the entry.
        photos: of now.
        found: the stack read from them; without it colour is taken where the stamp was read.
    """
    before_tint, before_outline = _kept(register, connector)
    now_tint = _tint_now(photos, found)
    now_outline = _first(_outline_of(photo) for photo in photos)
    lines = [compare_tints(before_tint, now_tint), *compare_outlines(before_outline, now_outline)]
    if now_outline is not None and before_outline is None and connector.gate:
        lines.append(_gate_by_words(connector.gate, now_outline))
    return tuple(lines)


def _kept(register: Register, connector: Connector) -> tuple[Tint | None, Outline | None]:
    """Colour and outline from the evidence pictures, the first that shows each."""
    pictures = []
    for _, _, sha256 in connector.photos:
        if sha256:
            data = np.frombuffer(read_crop(register, sha256).picture, np.uint8)
            picture = cv2.imdecode(data, cv2.IMREAD_COLOR)
            pictures += [] if picture is None else [np.asarray(picture, np.uint8)]
    outline = _first(find_outline(picture) for picture in pictures)
    return find_tint(pictures), outline


def _first(outlines: Iterator[Outline | None]) -> Outline | None:
    return next((outline for outline in outlines if outline is not None), None)


def _tint_now(photos: Sequence[Photo], found: StackReading | None) -> Tint | None:
    """Colour of the face over all shots that fit."""
    if found is None:
        return None
    fits = [fit for fit in found.stack.fits if fit.to_shot is not None]
    frame = found.stack.frame
    return find_tint(
        [frame.cut(photos[f.number].colour(), f.to_shot) for f in fits if f.to_shot is not None]
    )


def _outline_of(photo: Photo) -> Outline | None:
    """The outline on one photo; on a photo sheet of the first cell in use, with its scale."""
    from stampreader.photo import read_sheet

    cells = read_sheet(photo)
    for cell in cells or ():
        if cell.occupied:
            return find_outline(cell.crop, cell.mm_per_px)
    return find_outline(photo.colour())


def _gate_by_words(registered: str, now: Outline) -> Likeness:
    """The gate as the register words it against the outline of now."""
    kind = Gate.SLEEVE if any(w in registered.casefold() for w in LOCKED) else Gate.PLAIN
    same = kind is now.gate
    why = "a little: the register's word, not a picture" if same else "look at the gate yourself"
    speaks = Speaks.FOR if same else Speaks.AGAINST
    return Likeness("gate", registered, now.gate.value, speaks, why)


def unworn_lines(likenesses: Sequence[Likeness]) -> Iterator[str]:
    """The comparison for the screen, with what it all amounts to."""
    if not likenesses:
        return
    yield "  what does not wear"
    for item in likenesses:
        line = f"    {item.field:<7} then {item.before:<28} now {item.now:<28}"
        yield f"{line} {item.speaks.value} ({item.why})"
    yield f"  {_sum(likenesses)}"


def _sum(likenesses: Sequence[Likeness]) -> str:
    against = [item.field for item in likenesses if item.speaks is Speaks.AGAINST]
    if against:
        return f"{' and '.join(against)} {'speak' if len(against) > 1 else 'speaks'} against it."
    if any(item.speaks is Speaks.FOR for item in likenesses):
        return "Nothing here speaks against it; likeness alone never proves which connector it is."
    return "What does not wear cannot be told from these pictures."

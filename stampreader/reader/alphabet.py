"""The glyphs the network knows, and how written characters fold into them.

Letters whose capital and small form differ only in size share one class (`k` is `K`, `o` is `O`);
a comma is a decimal point.
"""

from __future__ import annotations

from stampreader.words import PICTOGRAMS

DIGITS = "0123456789"
CLASSES: tuple[str, ...] = (
    *DIGITS,
    *"./:-",
    *"ABCDEFGHIJKLMNOPQRSTUVWXYZ",
    *"abdefghilmnqrt",
    *PICTOGRAMS,
)
"""Class names in the order of the network's outputs."""

ROLES: tuple[str, ...] = ("none", "closed", "cross", "open", "strength")
"""What a glyph belongs to: no figure, one of the slots, or a strength of unshown direction."""

INDEX: dict[str, int] = {name: i for i, name in enumerate(CLASSES)}


def fold(char: str) -> str | None:
    """The class of a written character, `None` for one the network does not know.

    >>> fold("k"), fold(","), fold("g"), fold("(")
    ('K', '.', 'g', None)
    """
    if char == ",":
        return "."
    if char in INDEX:
        return char
    return char.upper() if char.upper() in INDEX else None

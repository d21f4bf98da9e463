"""File names as they can be shown."""

from __future__ import annotations

import os


def printable(path: str | os.PathLike[str]) -> str:
    """A path without control characters and broken bytes, for messages.

    Example: a name holding the byte FF and a bell becomes `\\\\xff` and `\\\\x07` in the text.
    """
    text = os.fsencode(path).decode("utf-8", "backslashreplace")
    return "".join(c if c.isprintable() else repr(c)[1:-1] for c in text)

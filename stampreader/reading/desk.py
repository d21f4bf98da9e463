"""What a photo is read with: the readers that are installed, the finder, the thresholds."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from stampreader.errors import ReaderError, UsageError
from stampreader.figures import Caps
from stampreader.photo import Photo
from stampreader.reader import Reader
from stampreader.spine import Face, find_faces

Finder = Callable[[Photo], tuple[Face, ...]]

EMBEDDED: dict[str, str] = {"net": "NetReader", "line": "LineReader"}
"""Embedded readers: module in `stampreader.reader`, and its class. The first one leads."""
NAMES: tuple[str, ...] = (*EMBEDDED, "tesseract")
"""All readers in the order they are asked."""


@dataclass(frozen=True, slots=True)
class Desk:
    """What a photo is read with.

    Attributes:
        readers: the first one leads; the others are compared with it.
        finder: finds the faces the first reader looks at.
        closer: finds them once more where little was read; `None` if there is no closer search.
        caps: thresholds of judging.
    """

    readers: tuple[Reader, ...]
    finder: Finder = find_faces
    caps: Caps = field(default_factory=Caps)
    closer: Finder | None = None


def default_desk(names: Sequence[str] | None = None) -> Desk:
    """The desk with the readers that are installed, or with those named.

    Raises:
        UsageError: a name is not a reader.
        ReaderError: a reader named is not installed, or its weights are missing or altered.
    """
    readers = default_readers(names)
    finder: Finder = getattr(readers[0], "find_faces", find_faces)
    closer: Finder | None = getattr(readers[0], "find_faces_closer", None)
    return Desk(readers, finder, caps_of(readers[0]), closer)


def fast_desk() -> Desk:
    """The desk without readers that are too slow to wait for; with them if there are no others."""
    desk = default_desk()
    fast = tuple(r for r in desk.readers if not getattr(r, "slow", False))
    return replace(desk, readers=fast or desk.readers)


def default_readers(names: Sequence[str] | None = None) -> tuple[Reader, ...]:
    """The readers that are installed, or those named; always in the order of `NAMES`.

    Raises:
        UsageError: a name is not a reader.
        ReaderError: none is installed, one named is not, or weights are missing or altered.
    """
    unknown = set(names or ()) - set(NAMES)
    if unknown:
        raise UsageError(
            f"there is no reader {', '.join(sorted(unknown))}",
            remedy=f"Readers are {', '.join(NAMES)}.",
        )
    wanted = [name for name in NAMES if not names or name in names]
    readers = [_make(name, required=bool(names)) for name in wanted]
    found = tuple(reader for reader in readers if reader is not None)
    if not found:
        raise ReaderError(
            "no reader is installed", remedy="Reinstall stampreader, or install Tesseract."
        )
    return found


def caps_of(reader: Reader) -> Caps:
    """Thresholds that come with the leading reader's card; a reader without one is uncalibrated."""
    card: Mapping[str, float] | None = getattr(reader, "caps", None)
    return Caps(calibrated=False) if card is None else Caps.from_mapping(card)


def _make(name: str, *, required: bool) -> Reader | None:
    """A reader, or `None` if its program is not installed and it was not asked for by name."""
    try:
        return _load(name)
    except ReaderNotInstalled:
        if required:
            raise
        return None


class ReaderNotInstalled(ReaderError):
    """A reader that needs another program, and the program is not installed."""

    kind = "reader-missing"


def _load(name: str) -> Reader:
    """A reader by name; the embedded ones belong to every installation."""
    if name in EMBEDDED:
        module = importlib.import_module(f"stampreader.reader.{name}")
        embedded: Reader = getattr(module, EMBEDDED[name])()
        return embedded
    from stampreader.reader.tesseract import TesseractReader

    try:
        return TesseractReader()
    except ReaderError as error:
        raise ReaderNotInstalled(str(error), remedy=error.remedy) from error

"""Writing the pictures of `read --picture`, one file, or a folder with one file a photo."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from stampreader.errors import UsageError

if TYPE_CHECKING:
    from stampreader.reading import Attempt

SUFFIXES = (".jpg", ".jpeg", ".png")


class PictureWriter:
    """Where the pictures go, decided before anything is read.

    Attributes:
        suffix: kind of picture to make, or `None` if none is wanted.
    """

    def __init__(self, target: Path | None, photos: Sequence[Path]) -> None:
        """Check the target.

        Raises:
            UsageError: one file for several photos, another ending, or the target is a photo.
        """
        self._target = target
        self.suffix: str | None = None
        self._folder = target is not None and (len(photos) > 1 or target.is_dir())
        if target is None:
            return
        self.suffix = ".jpg" if self._folder else target.suffix.lower()
        named_as_file = target.is_file() or target.suffix.lower() in SUFFIXES
        if self._folder and named_as_file and not target.is_dir():
            raise UsageError(
                f"{target} is one file, and there are {len(photos)} photos",
                remedy="Give --picture a folder.",
            )
        if self.suffix not in SUFFIXES:
            raise UsageError(
                f"a picture cannot be written as {target.name}",
                remedy="Name it .jpg or .png, or give a folder.",
            )
        if any(target.exists() and photo.exists() and target.samefile(photo) for photo in photos):
            raise UsageError(f"{target} is the photo itself", remedy="Name another file.")

    def kept(self, attempts: Iterable[Attempt]) -> Iterator[Attempt]:
        """The same attempts; each one's picture is written on the way.

        Raises:
            UsageError: a picture cannot be written.
        """
        used: set[str] = set()
        for attempt in attempts:
            if attempt.picture is not None and self._target is not None:
                write_picture(self._place(attempt.path, used), attempt.picture)
            yield attempt

    def _place(self, photo: str, used: set[str]) -> Path:
        """The file for one photo; photos of the same name in several folders are numbered."""
        from stampreader.photo import DRAWN

        assert self._target is not None
        if not self._folder:
            return self._target
        stem, number = Path(photo).stem, 1
        while (name := stem if number == 1 else f"{stem}-{number}").lower() in used:
            number += 1
        used.add(name.lower())
        return self._target / f"{name}{DRAWN}"


def write_picture(place: Path, picture: bytes) -> None:
    """Write a picture a person asked for, with the folders it needs.

    Raises:
        UsageError: it cannot be written there.
    """
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(picture)
    except OSError as error:
        raise UsageError(
            f"cannot write {place}: {error.strerror}", remedy="Give --picture another place."
        ) from error

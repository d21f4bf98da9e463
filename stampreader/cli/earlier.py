"""Lines that an earlier `read --json` printed: a run that was cut off reads no photo twice."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from stampreader.errors import UsageError

if TYPE_CHECKING:
    from stampreader.reading import Attempt


class Earlier:
    """The lines of an earlier run on these photos, found by the SHA-256 of their content.

    Only their places in the file are kept in memory, some hundred bytes a photo.

    Attributes:
        unread: photos on which there is no line by the same readers, in their order.
    """

    def __init__(self, file: IO[bytes], places: Mapping[str, int], photos: Sequence[Path]) -> None:
        from stampreader.cli.taking_in import fingerprint

        self._file, self._photos = file, photos
        self._places = {p: places[sha] for p in photos if (sha := fingerprint(p)) in places}
        self.unread = [photo for photo in photos if photo not in self._places]

    def mixed(self, attempts: Iterator[Attempt]) -> Iterator[Attempt | dict[str, Any]]:
        """Earlier lines, under the photo's present name, and new attempts, in the photos' order."""
        for photo in self._photos:
            if photo not in self._places:
                yield next(attempts)
                continue
            self._file.seek(self._places[photo])
            yield {**json.loads(self._file.readline()), "photo": str(photo)}


def open_earlier(path: Path, photos: Sequence[Path], readers: Sequence[str] | None) -> Earlier:
    """What an earlier run of these very readers printed on these photos.

    A last line that was cut off, and lines with an error, are not counted: those photos are read.

    Raises:
        UsageError: the file cannot be opened, or is no output of `read --json`.
    """
    from stampreader.reading import default_readers

    now = [f"{reader.name} {reader.version}" for reader in default_readers(readers)]
    try:
        file = path.open("rb")
    except OSError as error:
        raise UsageError(f"cannot open {path}: {error.strerror}", remedy="Check it.") from error
    places: dict[str, int] = {}
    place = 0
    for line in file:
        value = _value(line, path)
        if value.get("readers") == now:
            places[str(value.get("sha256"))] = place
        place += len(line)
    return Earlier(file, places, photos)


def _value(line: bytes, path: Path) -> dict[str, Any]:
    """The object on a line; an empty one if the line was cut off while it was written."""
    if not line.endswith(b"\n"):
        return {}
    try:
        value = json.loads(line)
    except ValueError:
        value = None
    if not isinstance(value, dict) or "photo" not in value:
        raise UsageError(
            f"{path} is no output of `read --json`", remedy="Give --earlier another file."
        )
    return value

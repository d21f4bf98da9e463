"""The shelf for photos sent by phone: names are made here, never taken from the phone."""

from __future__ import annotations

import os
import secrets
import shutil
import tempfile
from contextlib import suppress
from pathlib import Path
from threading import Lock
from typing import BinaryIO

from stampreader.errors import StampError

BLOCK = 1 << 20
HEADS: tuple[tuple[bytes, int, str], ...] = (
    (b"\xff\xd8\xff", 0, ".jpg"),
    (b"\x89PNG", 0, ".png"),
    (b"WEBP", 8, ".webp"),
    (b"ftyp", 4, ".heic"),
)
"""How files begin, where, and the ending they are kept with."""


class CannotKeep(StampError):
    """A photo cannot be kept on this computer."""

    kind = "shelf"
    remedy = "Check the free space and the folder for photos."


class Shelf:
    """A folder that keeps photos by content, and a private one for those being read."""

    def __init__(self, folder: Path) -> None:
        """Say where photos are kept; both folders are made with the first one."""
        self.folder = folder
        self._desk: Path | None = None
        self._lock = Lock()

    def put_down(self, sent: BinaryIO) -> Path:
        """Copy what was sent into a private file, to be read.

        Raises:
            CannotKeep: the disk is full or cannot be written.
        """
        place: Path | None = None
        try:
            with self._lock:
                self._desk = self._desk or Path(tempfile.mkdtemp(prefix="stampreader-"))
            place = self._desk / secrets.token_hex(16)
            with place.open("xb") as file:
                shutil.copyfileobj(sent, file, BLOCK)
        except OSError as error:
            if place is not None:
                self.throw_away(place)
            raise CannotKeep(f"the photo cannot be kept ({error.strerror})") from error
        return place

    def keep(self, place: Path, sha256: str) -> Path:
        """Move a photo that was read to the folder; the same photo is kept once.

        Raises:
            CannotKeep: the disk is full or cannot be written.
        """
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            with place.open("rb") as file:
                ending = _ending(file.read(16))
            kept = self.folder / f"{sha256[:20]}{ending}"
            half = self.folder / f".{secrets.token_hex(8)}.new"
            shutil.copyfile(place, half)
            with half.open("rb+") as file:
                os.fsync(file.fileno())
            half.replace(kept)
        except OSError as error:
            raise CannotKeep(f"the photo cannot be kept ({error.strerror})") from error
        return kept

    def throw_away(self, place: Path) -> None:
        """Forget a photo being read."""
        with suppress(OSError):
            place.unlink(missing_ok=True)

    def close(self) -> None:
        """Remove the private folder."""
        if self._desk is not None:
            shutil.rmtree(self._desk, ignore_errors=True)


def _ending(head: bytes) -> str:
    for begin, at, ending in HEADS:
        if head[at : at + len(begin)] == begin:
            return ending
    return ".photo"

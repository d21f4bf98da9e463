"""One photo from its file: limits first, then the header, then the pixels."""

from __future__ import annotations

import hashlib
import stat
from dataclasses import dataclass, field
from os import stat_result
from pathlib import Path

import cv2

from stampreader.errors import PhotoError
from stampreader.photo.decode import Pixels, decode
from stampreader.photo.header import Header, open_lazily, read_header
from stampreader.photo.names import printable


@dataclass(frozen=True, slots=True)
class Limits:
    """What one photo may cost.

    Attributes:
        max_bytes: size of the file.
        max_pixels: width times height, checked before decoding.
        min_side_px: a smaller picture cannot hold a stamp; it is read, with a note.
        max_seconds: time for decoding and reading, kept by the worker's parent.
        max_memory_bytes: address space of a worker, where the system can limit it.
    """

    max_bytes: int = 80 * 2**20
    max_pixels: int = 120_000_000
    min_side_px: int = 64
    max_seconds: float = 90.0
    max_memory_bytes: int = 4 * 2**30


@dataclass(eq=False, slots=True)
class Photo:
    """An upright photo.

    Attributes:
        path: as given by the user.
        sha256: of the file's bytes, hex.
        size: (width, height) of the upright photo in pixels.
        grey: `(H, W) uint8`, upright.
        taken_on: ISO 8601 local time from EXIF, or `None`.
        notes: remarks on the file, one sentence each.
    """

    path: Path
    sha256: str
    size: tuple[int, int]
    grey: Pixels
    taken_on: str | None = None
    notes: tuple[str, ...] = ()
    _data: bytes = field(default=b"", repr=False)
    _header: Header | None = field(default=None, repr=False)
    _colour: Pixels | None = field(default=None, repr=False)

    def colour(self) -> Pixels:
        """The photo in colour, `(H, W, 3) uint8 BGR`, upright; decoded at the first call."""
        if self._colour is None:
            if self._header is None:
                self._colour = cv2.cvtColor(self.grey, cv2.COLOR_GRAY2BGR)  # type: ignore[assignment]
            else:
                self._colour = decode(self._data, self._header, colour=True)
        assert self._colour is not None
        return self._colour


def load_photo(path: Path | str, limits: Limits = Limits()) -> Photo:
    """Load a photo: upright grey pixels, SHA-256, time taken.

    Args:
        path: the file, as the user gave it.
        limits: what the photo may cost.

    Raises:
        PhotoError: missing, unreadable, too large, not an image, cut short or damaged.
    """
    path = Path(path)
    data = _read_file(path, limits)
    try:
        picture = open_lazily(data)
        header = read_header(picture)
        _check_size(header, limits)
        del picture
        grey = decode(data, header, colour=False)
    except PhotoError as error:
        raise PhotoError(f"cannot read {printable(path)}: {error}", remedy=error.remedy) from error
    return Photo(
        path=path,
        sha256=hashlib.sha256(data).hexdigest(),
        size=(grey.shape[1], grey.shape[0]),
        grey=grey,
        taken_on=header.taken_on,
        notes=_notes(header, limits),
        _data=data,
        _header=header,
    )


def photo_from_pixels(pixels: Pixels, name: str = "picture") -> Photo:
    """A photo from pixels in memory: `(H, W)` grey or `(H, W, 3)` BGR, uint8, upright."""
    grey: Pixels = (
        pixels if pixels.ndim == 2 else cv2.cvtColor(pixels, cv2.COLOR_BGR2GRAY)  # type: ignore[assignment]
    )
    return Photo(
        path=Path(name),
        sha256=hashlib.sha256(pixels.tobytes()).hexdigest(),
        size=(grey.shape[1], grey.shape[0]),
        grey=grey,
        _colour=None if pixels.ndim == 2 else pixels,
    )


def _read_file(path: Path, limits: Limits) -> bytes:
    """The file's bytes; never more than the limit, never from a pipe or device."""
    try:
        status = path.stat()
        _check_file(path, status, limits)
        with path.open("rb") as file:
            data = file.read(status.st_size)
    except FileNotFoundError as error:
        raise PhotoError(f"there is no file {printable(path)}", remedy="Check the name.") from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise PhotoError(
            f"cannot open {printable(path)}: {reason}", remedy="Check the name and the permissions."
        ) from error
    if not data:
        raise PhotoError(f"{printable(path)} is empty (0 bytes)", remedy="Copy the file again.")
    return data


def _check_file(path: Path, status: stat_result, limits: Limits) -> None:
    if stat.S_ISDIR(status.st_mode):
        raise _empty_folder(path)
    if not stat.S_ISREG(status.st_mode):
        raise PhotoError(f"{printable(path)} is not a file", remedy="Give a photo or a folder.")
    if status.st_size > limits.max_bytes:
        raise PhotoError(
            f"{printable(path)} has {status.st_size / 2**20:.0f} MB, more than the "
            f"{limits.max_bytes / 2**20:.0f} MB allowed",
            remedy="Save it smaller.",
        )


def _empty_folder(path: Path) -> PhotoError:
    return PhotoError(
        f"there is no photo in the folder {printable(path)}",
        remedy="Give a folder that holds JPEG, PNG, HEIC, WebP, TIFF, BMP, GIF or AVIF files.",
    )


def _check_size(header: Header, limits: Limits) -> None:
    pixels = header.width_px * header.height_px
    if pixels > limits.max_pixels:
        raise PhotoError(
            f"{header.width_px} × {header.height_px} pixels are more than the "
            f"{limits.max_pixels / 1e6:.0f} million allowed",
            remedy="Save it smaller.",
        )
    if pixels <= 0:
        raise PhotoError("the picture has no pixels")


def _notes(header: Header, limits: Limits) -> tuple[str, ...]:
    notes = []
    if header.frames > 1:
        notes.append(f"The file holds {header.frames} pictures; only the first was read.")
    if min(header.width_px, header.height_px) < limits.min_side_px:
        notes.append("The picture is too small to show a stamp.")
    return tuple(notes)

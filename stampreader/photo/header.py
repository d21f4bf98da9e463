"""What an image file says about itself before it is decoded: kind, size, turn, time taken.

Nothing here decodes pixels, so a picture of any size costs next to nothing to refuse.
"""

from __future__ import annotations

import io
import logging
import re
import struct
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from PIL import ExifTags, Image

from stampreader.errors import PhotoError

logging.getLogger("PIL").setLevel(logging.CRITICAL)

KINDS: dict[str, str] = {
    "JPEG": "JPEG",
    "MPO": "JPEG",
    "PNG": "PNG",
    "WEBP": "WebP",
    "TIFF": "TIFF",
    "GIF": "GIF",
    "BMP": "BMP",
    "AVIF": "AVIF",
    "HEIF": "HEIC",
}
"""Pillow's names of the formats accepted, and the name a person knows."""

PILLOW_KINDS = tuple(kind for kind in KINDS if kind not in ("MPO", "HEIF"))
"""Those that Pillow opens by name (an MPO is opened as JPEG); JPEG stands first, so that its photos
load no other plugin."""

HEIC_BRANDS = frozenset({b"heic", b"heix", b"hevc", b"hevx", b"heim", b"heis", b"mif1", b"msf1"})
"""File brands of HEIC in the `ftyp` box (ISO/IEC 23008-12, annex B)."""


@dataclass(frozen=True, slots=True)
class Header:
    """What the file says before decoding.

    Attributes:
        kind: a value of `KINDS`.
        width_px, height_px: as stored, before turning upright.
        mode: Pillow's colour mode, such as `RGB`, `L`, `CMYK`, `I;16`.
        orientation: EXIF orientation, 1 to 8.
        taken_on: ISO 8601 local time from EXIF, or `None`.
        frames: pictures in the file.
    """

    kind: str
    width_px: int
    height_px: int
    mode: str
    orientation: int
    taken_on: str | None
    frames: int


def open_lazily(data: bytes) -> Image.Image:
    """The file as a Pillow picture whose pixels are not decoded yet.

    Raises:
        PhotoError: not an image, an image of a kind that is not read, or a broken header.
    """
    if data[4:8] == b"ftyp" and data[8:12] in HEIC_BRANDS and not _is_avif(data):
        return _open_heic(data)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            return Image.open(io.BytesIO(data), formats=PILLOW_KINDS)
        except Image.DecompressionBombError as error:
            raise PhotoError(
                "it has more pixels than can be read safely", remedy="Save it smaller."
            ) from error
        except Exception as error:  # hostile headers raise almost anything
            raise PhotoError(
                "it is not a picture that can be read",
                remedy=f"Give a photo as {', '.join(sorted(set(KINDS.values())))}.",
            ) from error


def read_header(picture: Image.Image) -> Header:
    """Kind, size, orientation and time of a picture opened by `open_lazily`."""
    return Header(
        kind=KINDS.get(picture.format or "", "JPEG"),
        width_px=picture.width,
        height_px=picture.height,
        mode=picture.mode,
        orientation=orientation_of(picture),
        taken_on=_taken_on(picture),
        frames=_frames(picture),
    )


def is_cut_short(jpeg: bytes) -> bool:
    """Whether a JPEG lacks the end marker of its first picture (ITU-T T.81, B.2.1).

    The end marker cannot occur inside coded data, so searching from the first scan is enough;
    thumbnails sit in segments before it.
    """
    scan = _first_scan(jpeg)
    return scan is None or jpeg.find(b"\xff\xd9", scan) < 0


def _first_scan(jpeg: bytes) -> int | None:
    at = 2
    while at + 4 <= len(jpeg):
        if jpeg[at] != 0xFF:
            return None
        marker = jpeg[at + 1]
        if marker == 0xFF:
            at += 1
        elif marker == 0xDA:
            return at
        elif marker == 0x01 or 0xD0 <= marker <= 0xD8:
            at += 2
        else:
            at += 2 + int(struct.unpack(">H", jpeg[at + 2 : at + 4])[0])
    return None


def _is_avif(data: bytes) -> bool:
    box = struct.unpack(">I", data[:4])[0]
    return b"avif" in data[8 : min(box, 256)]


def _open_heic(data: bytes) -> Image.Image:
    try:
        from pillow_heif import HeifImageFile
    except ImportError as error:
        raise PhotoError(
            "HEIC needs a decoder that is not installed",
            remedy='Run `pip install "stampreader[heic]"`, or save the photo as JPEG.',
        ) from error
    try:
        picture: Image.Image = HeifImageFile(io.BytesIO(data))  # type: ignore[no-untyped-call]
    except Exception as error:  # the decoder raises several kinds
        raise PhotoError("the HEIC file is damaged") from error
    return picture


def _frames(picture: Image.Image) -> int:
    """Pictures in an animation or a stack; 1 where their chain is broken."""
    if picture.format not in ("GIF", "TIFF", "WEBP", "AVIF"):
        return 1
    return int(_value_or_none(lambda: getattr(picture, "n_frames", 1)) or 1)


def orientation_of(picture: Image.Image) -> int:
    """EXIF orientation 1 to 8; 1 if absent, nonsense or broken."""
    turn = _value_or_none(lambda: picture.getexif().get(ExifTags.Base.Orientation))
    return turn if turn in range(1, 9) else 1


def _taken_on(picture: Image.Image) -> str | None:
    original = _value_or_none(
        lambda: picture.getexif().get_ifd(ExifTags.IFD.Exif).get(ExifTags.Base.DateTimeOriginal)
    )
    return _iso_time(
        original or _value_or_none(lambda: picture.getexif().get(ExifTags.Base.DateTime))
    )


def _value_or_none(get: Callable[[], Any]) -> Any:
    """A value that a damaged file may not give; then it counts as absent."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            return get()
        except Exception:  # hostile files raise almost anything
            return None


def _iso_time(text: Any) -> str | None:
    """EXIF time `2026:05:01 09:30:00` as `2026-05-01T09:30:00`; anything else is no time."""
    found = re.fullmatch(
        r"([12]\d{3}):(0[1-9]|1[0-2]):(0[1-9]|[12]\d|3[01]) ([01]\d|2[0-3]):([0-5]\d):([0-5]\d)\0*",
        str(text),
    )
    return "{}-{}-{}T{}:{}:{}".format(*found.groups()) if found else None

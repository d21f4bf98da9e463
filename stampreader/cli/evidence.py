"""Evidence pictures for the person: as files to look at, one by one or all on one sheet."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from pathlib import Path

import typer

from stampreader.errors import StampError
from stampreader.register import Crop, Register, read_crop
from stampreader.words import Arrival

SUFFIXES = {"image/jpeg": ".jpg", "image/png": ".png"}
CELL_PX = (420, 200)
COLUMNS = 4


def crops_of(register: Register, arrival: Arrival) -> list[Crop]:
    """The evidence pictures of an arrival."""
    return [read_crop(register, s.crop) for s in arrival.seen if s.crop]


def show_evidence(
    register: Register, members: Sequence[Arrival], member: int | None, folder: Path
) -> None:
    """Write evidence pictures into a folder, tell where, and open them where that is possible.

    Args:
        register: holds the pictures.
        members: the arrivals of the question.
        member: number of the one to show; all on one sheet if `None` and there are several.
        folder: where to write.
    """
    if member is None and len(members) > 1:
        sheet = [crop for arrival in members for crop in crops_of(register, arrival)[:1]]
        if len(sheet) == len(members):
            show_file(_write(folder, "all.jpg", contact_sheet(sheet)))
            return
    shown = members if member is None else members[member - 1 : member]
    for number, arrival in enumerate(shown, member or 1):
        for path in write_crops(crops_of(register, arrival), folder, f"{number}"):
            show_file(path)
        for photo in dict.fromkeys(sighting.path for sighting in arrival.seen):
            typer.echo(f"  the whole photo: {photo}")


def write_crops(crops: Sequence[Crop], folder: Path, stem: str) -> list[Path]:
    """Write evidence pictures as `STEM-1.jpg`, `STEM-2.jpg`, …"""
    return [
        _write(folder, f"{stem}-{number}{SUFFIXES.get(crop.media, '.bin')}", crop.picture)
        for number, crop in enumerate(crops, 1)
    ]


def _write(folder: Path, name: str, picture: bytes) -> Path:
    place = folder / name
    try:
        folder.mkdir(parents=True, exist_ok=True)
        place.write_bytes(picture)
    except OSError as error:
        raise StampError(
            f"cannot write {place}: {error.strerror}", remedy="Give a folder you may write to."
        ) from error
    return place


def show_file(path: Path) -> None:
    """Tell where a picture lies, and open it in the system's viewer if there is a screen."""
    typer.echo(f"  {path}")
    if sys.stdout.isatty() and _has_screen():
        typer.launch(str(path))


def _has_screen() -> bool:
    if sys.platform.startswith("linux"):
        return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
    return sys.platform in ("darwin", "win32")


def contact_sheet(crops: Sequence[Crop]) -> bytes:
    """Many evidence pictures, numbered, on one JPEG."""
    import cv2
    import numpy as np

    width, height = CELL_PX
    columns = min(COLUMNS, len(crops))
    rows = -(-len(crops) // columns)
    sheet = np.full((rows * height, columns * width, 3), 255, np.uint8)
    for index, crop in enumerate(crops):
        picture = cv2.imdecode(np.frombuffer(crop.picture, np.uint8), cv2.IMREAD_COLOR)
        if picture is None:
            continue
        room_px = (width - 10, height - 40)
        scale = min(room_px[0] / picture.shape[1], room_px[1] / picture.shape[0])
        small = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
        top, left = index // columns * height, index % columns * width
        sheet[top + 34 : top + 34 + small.shape[0], left + 5 : left + 5 + small.shape[1]] = small
        cv2.putText(
            sheet, str(index + 1), (left + 6, top + 26), cv2.FONT_HERSHEY_SIMPLEX, 0.8, (0, 0, 0), 2
        )
    done, data = cv2.imencode(".jpg", sheet, [cv2.IMWRITE_JPEG_QUALITY, 88])
    assert done, "a picture in memory can always be written as JPEG"
    return data.tobytes()

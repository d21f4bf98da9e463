"""Which photos a list of files and folders holds."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable
from pathlib import Path

SUFFIXES = (
    *(".jpg", ".jpeg", ".jpe", ".jfif", ".mpo", ".png", ".webp"),
    *(".tif", ".tiff", ".gif", ".bmp", ".heic", ".heif", ".avif"),
)
"""Endings taken for photos in a folder; a file named by itself is taken whatever its ending."""


DRAWN = ".read.jpg"
"""Ending of the pictures this program draws; they are not photos to read again."""


def find_photos(paths: Iterable[Path | str]) -> list[Path]:
    """The photos meant by files and folders, in the order given.

    Folders are searched with all their subfolders, sorted by name so that `2.jpg` comes before
    `10.jpg`. Hidden files and linked folders are left out. A folder without photos stays in the
    list itself, so that loading it says so without stopping the others.
    """
    found: list[Path] = []
    for given in map(Path, paths):
        found += (_in_folder(given) or [given]) if given.is_dir() else [given]
    return found


def _in_folder(folder: Path) -> list[Path]:
    photos = [
        Path(place, name)
        for place, subfolders, names in os.walk(folder)
        for name in _visible(subfolders, names)
        if os.path.splitext(name)[1].lower() in SUFFIXES
    ]
    return sorted(photos, key=_by_name)


def _visible(subfolders: list[str], names: list[str]) -> list[str]:
    """Names not hidden and not drawn; takes hidden subfolders out of the walk as well."""
    subfolders[:] = [name for name in subfolders if not name.startswith(".")]
    return [name for name in names if not name.startswith(".") and not name.endswith(DRAWN)]


def _by_name(path: Path) -> list[tuple[int, int, str]]:
    """Sorting key that counts: digits compare as numbers, letters without case."""
    return [
        (0, int(part), "") if part.isdecimal() and part.isascii() else (1, 0, part.lower())
        for part in re.split(r"(\d+|/)", str(path))
        if part
    ]

"""The work of `read --relief` and `verify --relief`: several shots of one worn face."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from stampreader.cli.pictures import SUFFIXES, write_picture
from stampreader.errors import UsageError

if TYPE_CHECKING:
    from stampreader.photo import Photo
    from stampreader.reading import StackReading


def read_stack(
    paths: Sequence[Path], readers: str | None, picture: Path | None
) -> tuple[list[Photo], StackReading]:
    """Load and read the shots of one face, and write the picture of what was done.

    Raises:
        UsageError: too few or too many shots, or the picture cannot be written there.
        PhotoError: a file cannot be read, or fewer than three shots show the same face.
    """
    from stampreader.photo import load_photo
    from stampreader.reading import check_count, default_desk, read_shots, side_by_side

    check_count(len(paths))
    if picture is not None:
        _check_picture(picture, paths)
    photos = [load_photo(path) for path in paths]
    found = read_shots(photos, default_desk(readers.split(",") if readers else None))
    if picture is not None:
        write_picture(picture, side_by_side(photos, found, picture.suffix))
    return photos, found


def _check_picture(picture: Path, shots: Sequence[Path]) -> None:
    """Refuse a place for the picture before any time is spent."""
    if picture.suffix.lower() not in SUFFIXES:
        raise UsageError(
            f"a picture cannot be written as {picture.name}", remedy="Name it .jpg or .png."
        )
    if any(picture.exists() and shot.exists() and picture.samefile(shot) for shot in shots):
        raise UsageError(f"{picture} is one of the shots", remedy="Name another file.")


def stack_line(photos: Sequence[Photo], found: StackReading) -> dict[str, Any]:
    """A stack as one JSON object: the reading, and under `relief` how it came about."""
    from stampreader.reading import as_line

    lamps = dict(zip(found.stack.used, found.lamps, strict=True))
    shots = [
        {
            "photo": str(photos[fit.number].path),
            "used": fit.to_shot is not None,
            "residual_px": None if fit.to_shot is None else round(fit.residual_px, 2),
            "lamp": lamps[fit.number].side if fit.number in lamps else None,
            "trouble": fit.trouble or None,
        }
        for fit in found.stack.fits
    ]
    best = str(photos[found.best].path)
    relief = {"shots": shots, "best": best, "advice": found.advice or None}
    return {**as_line(found.reading), "relief": relief}


def stack_lines(photos: Sequence[Photo], found: StackReading) -> Iterator[str]:
    """A stack for the screen: each shot, then the reading."""
    from stampreader.cli.show_reading import attempt_block
    from stampreader.photo import printable
    from stampreader.reading import Attempt

    lamps = dict(zip(found.stack.used, found.lamps, strict=True))
    for fit in found.stack.fits:
        name = printable(str(photos[fit.number].path))
        if fit.to_shot is None:
            yield f"{name}  left out: {fit.trouble}"
        elif fit.number == found.stack.reference:
            yield f"{name}  the others are laid on this one; lamp {lamps[fit.number].side}"
        else:
            yield f"{name}  fits to {fit.residual_px:.1f} px; lamp {lamps[fit.number].side}"
    yield f"{len(found.stack.used)} shots together"
    yield from list(attempt_block(Attempt(found.reading.photo, reading=found.reading)))[1:]

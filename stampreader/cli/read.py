"""`stampreader read`: what is stamped on the connectors of these photos."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from stampreader.cli.common import JsonOption


def command(
    photos: Annotated[
        list[Path],
        typer.Argument(metavar="PHOTO|FOLDER", help="Photos, or folders of photos."),
    ],
    as_json: JsonOption = False,
    picture: Annotated[
        Path | None,
        typer.Option(
            "--picture",
            metavar="FILE",
            help="Write the photo with boxes and values drawn on it, .jpg or .png; with several "
            "photos a folder to write them into.",
        ),
    ] = None,
    jobs: Annotated[
        int | None,
        typer.Option("--jobs", "-j", min=1, help="Photos read at once; else one a core."),
    ] = None,
    readers: Annotated[
        str | None,
        typer.Option("--readers", metavar="NAME,…", help="Readers to use; else all installed."),
    ] = None,
) -> None:
    """Read strength figures and marks off photos of connectors."""
    from stampreader.cli.pictures import PictureWriter
    from stampreader.cli.progress import counted
    from stampreader.cli.show_reading import show_attempts
    from stampreader.photo import find_photos
    from stampreader.reading import read_many

    paths = find_photos(photos)
    writer = PictureWriter(picture, paths)
    names = readers.split(",") if readers else None
    attempts = read_many(paths, readers=names, jobs=jobs, picture=writer.suffix)
    failed = show_attempts(writer.kept(counted(attempts, len(paths))), as_json=as_json)
    if failed:
        raise typer.Exit(1)

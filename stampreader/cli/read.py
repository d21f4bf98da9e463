"""`stampreader read`: what is stamped on the connectors of these photos."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from stampreader.cli.common import JsonOption
from stampreader.cli.machines import JobsOption, ReadersOption, ReliefOption, SchedulerOption
from stampreader.errors import UsageError


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
    jobs: JobsOption = None,
    scheduler: SchedulerOption = None,
    earlier: Annotated[
        Path | None,
        typer.Option(
            "--earlier",
            metavar="FILE",
            help="What a run with --json printed before it was cut off: photos with a line there, "
            "known by their content, are not read again.",
        ),
    ] = None,
    readers: ReadersOption = None,
    relief: ReliefOption = False,
) -> None:
    """Read strength figures and marks off photos of connectors."""
    if relief:
        _read_relief(photos, as_json=as_json, picture=picture, readers=readers)
        return
    from stampreader.cli.earlier import open_earlier
    from stampreader.cli.machines import attempts_on
    from stampreader.cli.pictures import PictureWriter
    from stampreader.cli.show_reading import show_attempts
    from stampreader.photo import find_photos

    paths = find_photos(photos)
    writer = PictureWriter(picture, paths)
    names = readers.split(",") if readers else None
    if earlier is not None and (picture is not None or not as_json):
        raise UsageError("--earlier goes with --json", remedy="Add --json, leave out --picture.")
    before = open_earlier(earlier, paths, names) if earlier is not None else None
    with attempts_on(
        before.unread if before else paths,
        readers=names, jobs=jobs, scheduler=scheduler, picture=writer.suffix,
    ) as attempts:  # fmt: skip
        told = before.mixed(attempts) if before else writer.kept(attempts)
        failed = show_attempts(told, as_json=as_json)
    if failed:
        raise typer.Exit(1)


def _read_relief(
    photos: list[Path], *, as_json: bool, picture: Path | None, readers: str | None
) -> None:
    """Read several shots of one face together."""
    from stampreader.cli.common import emit_json, show_caution
    from stampreader.cli.stacking import read_stack, stack_line, stack_lines
    from stampreader.photo import find_photos

    loaded, found = read_stack(find_photos(photos), readers, picture)
    if as_json:
        emit_json([stack_line(loaded, found)])
        return
    typer.echo("\n".join(stack_lines(loaded, found)) + "\n")
    show_caution()

"""`stampreader verify`: is the connector in this photo the one the register says it is?"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from stampreader.cli.common import JsonOption, RegisterOption, emit_json, register_path
from stampreader.cli.machines import ReadersOption, ReliefOption


def command(
    photos: Annotated[
        list[Path], typer.Argument(metavar="PHOTO...", help="Photos of one connector.")
    ],
    id: Annotated[
        str,
        typer.Argument(
            metavar="ID",
            help="Id of the connector it should be; with --relief it may be left out.",
        ),
    ],
    readers: ReadersOption = None,
    relief: ReliefOption = False,
    picture: Annotated[
        Path | None,
        typer.Option(
            "--picture",
            metavar="FILE",
            help="With --relief: write best shot, relief map and reading, .jpg or .png.",
        ),
    ] = None,
    as_json: JsonOption = False,
    register: RegisterOption = None,
) -> None:
    """Compare photos of a connector with its entry: matches, differs, or cannot tell."""
    from stampreader.cli.verifying import verification, verification_lines
    from stampreader.confirm import Verdict
    from stampreader.errors import UsageError
    from stampreader.photo import find_photos
    from stampreader.reading import read_many
    from stampreader.register import find_connector, open_register

    if relief:
        from stampreader.cli.verify_relief import verify_relief

        matches = verify_relief([*photos, Path(id)], readers, picture, register, as_json=as_json)
        raise typer.Exit(0 if matches else 1)
    if picture is not None:
        raise UsageError("--picture goes with --relief", remedy="Add --relief, or use `read`.")
    with open_register(register_path(register)) as book:
        connector = find_connector(book, id)
        names = readers.split(",") if readers else None
        attempts = list(read_many(find_photos(photos), readers=names))
        result = verification(book, connector, attempts)
    if as_json:
        emit_json([result.as_json()])
    else:
        typer.echo("\n".join(verification_lines(result)))
    if result.verdict is not Verdict.MATCHES:
        raise typer.Exit(1)

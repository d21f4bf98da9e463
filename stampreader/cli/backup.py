"""`stampreader backup`: a copy of the register, read back before it counts."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from stampreader.cli.common import JsonOption, RegisterOption, emit_json, register_path, say


def command(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="File to write the copy to.")],
    overwrite: Annotated[
        bool, typer.Option("--overwrite", help="Put it in the place of an older backup.")
    ] = False,
    as_json: JsonOption = False,
    register: RegisterOption = None,
) -> None:
    """Copy the register into one file while it is in use, and read the copy back."""
    from stampreader.register import back_up, open_register

    with open_register(register_path(register)) as book:
        made = back_up(book, file, overwrite=overwrite, progress=say)
    if as_json:
        emit_json(
            [
                {
                    "file": str(made.path),
                    "connectors": made.connectors,
                    "events": made.events,
                    "pictures": made.pictures,
                    "bytes": made.size_bytes,
                    "last": [{"event": event, "hash": digest} for event, digest in made.last],
                }
            ]
        )
        return
    typer.echo(
        f"{made.path}: {made.connectors} connectors, {made.events} events, {made.pictures} "
        f"pictures, {made.size_bytes / 1e6:.1f} MB, read back and whole"
    )
    for event, digest in made.last:
        typer.echo(f"  up to entry {event}, {digest[:12]}")

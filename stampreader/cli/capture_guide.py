"""`stampreader capture-guide`: how to photograph a face that looks blank."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def command(
    picture: Annotated[
        Path | None,
        typer.Option("--picture", metavar="FILE", help="Write the drawing as an SVG file."),
    ] = None,
) -> None:
    """How to take 3 to 12 shots of a worn stamp with the lamp moved, with a drawing."""
    from stampreader.cli.guide import guide_text, write_drawing

    if picture is not None:
        write_drawing(picture)
        typer.echo(f"{picture}")
        return
    typer.echo(guide_text())

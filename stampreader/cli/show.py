"""`stampreader show`: everything the register knows of one connector."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from stampreader.cli.common import JsonOption, RegisterOption, emit_json, register_path


def command(
    id: Annotated[str, typer.Argument(metavar="ID", help="Id of the connector.")],
    pictures: Annotated[
        Path | None,
        typer.Option("--pictures", metavar="DIR", help="Write its evidence pictures there."),
    ] = None,
    as_json: JsonOption = False,
    register: RegisterOption = None,
) -> None:
    """Show a connector: figures, marks, state, photos and its whole history."""
    from stampreader.cli.evidence import write_crops
    from stampreader.cli.show_connectors import connector_json, connector_lines
    from stampreader.register import find_connector, open_register, read_crop

    with open_register(register_path(register)) as book:
        connector = find_connector(book, id)
        history = book.history(connector.uid)
        if as_json:
            emit_json([connector_json(connector, history)])
        else:
            typer.echo("\n".join(connector_lines(connector, history)))
        if pictures is not None:
            crops = [read_crop(book, crop) for _, _, crop in connector.photos if crop]
            written = write_crops(crops, pictures, connector.id.replace("/", "_"))
            for path in written:
                typer.echo(str(path), err=True)

"""`stampreader correct`: correct an entry; what stood there before stays in the history."""

from __future__ import annotations

from typing import Annotated

import typer

from stampreader.cli.common import JsonOption, RegisterOption, emit_json, now, register_path
from stampreader.cli.entry_options import (
    BatchOption,
    FiguresOption,
    MadeOption,
    MakerOption,
    MarksOption,
    ModelOption,
    SerialOption,
    SetOption,
)
from stampreader.cli.person import WhoOption


def command(
    id: Annotated[str, typer.Argument(metavar="ID", help="Id of the connector.")],
    why: Annotated[str, typer.Option("--why", help="Why it is corrected, for the history.")],
    figures: FiguresOption = None,
    marks: MarksOption = None,
    maker: MakerOption = None,
    model: ModelOption = None,
    serial: SerialOption = None,
    batch: BatchOption = None,
    made_on: MadeOption = None,
    new_id: Annotated[str | None, typer.Option("--id", help="A new id for it.")] = None,
    fields: SetOption = None,
    who: WhoOption = None,
    register: RegisterOption = None,
    as_json: JsonOption = False,
) -> None:
    """Correct an entry: a new line in its history, never an overwrite."""
    from stampreader.cli.choosing import typed_fields
    from stampreader.cli.person import who_decides
    from stampreader.cli.show_connectors import connector_json, connector_lines
    from stampreader.errors import UsageError
    from stampreader.register import correct_entry, find_connector, open_register, read_settings

    given = typed_fields(
        figures=figures, marks=marks, fields=fields or (), maker=maker, model=model, serial=serial,
        batch=batch, made_on=made_on, id=new_id,
    )  # fmt: skip
    if not given or not why.strip():
        raise UsageError("nothing to correct, or no reason", remedy="Give a field and --why.")
    with open_register(register_path(register)) as book:
        connector = find_connector(book, id)
        person = who_decides(who, read_settings(book))
        event = correct_entry(book, connector, given, why=why.strip(), who=person, at=now())
        after = find_connector(book, connector.uid)
        history = book.history(after.uid)
        if as_json:
            emit_json([connector_json(after, history)])
        else:
            typer.echo("nothing differed" if event is None else "corrected")
            typer.echo("\n".join(connector_lines(after, history)))

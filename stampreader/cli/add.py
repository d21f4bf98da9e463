"""`stampreader add`: a connector without a photo."""

from __future__ import annotations

import typer

from stampreader.cli.common import JsonOption, RegisterOption, emit_json, now, register_path
from stampreader.cli.entry_options import (
    BatchOption,
    FiguresOption,
    IdOption,
    MadeOption,
    MakerOption,
    MarksOption,
    ModelOption,
    SerialOption,
    SetOption,
)
from stampreader.cli.person import WhoOption


def command(
    figures: FiguresOption = None,
    marks: MarksOption = None,
    maker: MakerOption = None,
    model: ModelOption = None,
    serial: SerialOption = None,
    batch: BatchOption = None,
    made_on: MadeOption = None,
    id: IdOption = None,
    fields: SetOption = None,
    who: WhoOption = None,
    register: RegisterOption = None,
    as_json: JsonOption = False,
) -> None:
    """Enter a connector by hand, without a photo; the register keeps it marked so."""
    from stampreader.cli.choosing import typed_fields
    from stampreader.cli.person import who_decides
    from stampreader.register import add_by_hand, as_row, find_connector, open_register
    from stampreader.register import read_settings as settings_of

    given = typed_fields(
        figures=figures, marks=marks, fields=fields or (), maker=maker, model=model, serial=serial,
        batch=batch, made_on=made_on, id=id,
    )  # fmt: skip
    with open_register(register_path(register), create=True) as book:
        person = who_decides(who, settings_of(book))
        event = add_by_hand(book, given, who=person, at=now())
        connector = find_connector(book, event.body["fields"]["id"])
        if as_json:
            emit_json([as_row(connector)])
        else:
            typer.echo(f"{connector.id} entered by hand, in the name of {person}")

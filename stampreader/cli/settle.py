"""`stampreader settle`: a person has looked at a conflict and leaves the entry as it stands."""

from __future__ import annotations

from typing import Annotated

import typer

from stampreader.cli.common import JsonOption, RegisterOption
from stampreader.cli.person import WhoOption


def command(
    ids: Annotated[list[str], typer.Argument(metavar="ID...", help="Connectors looked at.")],
    why: Annotated[str, typer.Option("--why", help="What was found, for the history.")],
    who: WhoOption = None,
    as_json: JsonOption = False,
    register: RegisterOption = None,
) -> None:
    """Settle what merged stations recorded against each other: the entry holds as it stands now.

    Correct it first with `stampreader correct` where it is wrong.
    """
    from stampreader.cli.common import emit_json, now, register_path
    from stampreader.cli.person import who_decides
    from stampreader.register import as_row, find_connector, open_register, read_settings, settle

    with open_register(register_path(register)) as book:
        person = who_decides(who, read_settings(book))
        connectors = [find_connector(book, id) for id in dict.fromkeys(ids)]
        settle(book, connectors, why, who=person, at=now())
        settled = [find_connector(book, connector.uid) for connector in connectors]
    if as_json:
        emit_json(map(as_row, settled))
    else:
        typer.echo("\n".join(f"{c.id} settled as it stands: {c.life}" for c in settled))

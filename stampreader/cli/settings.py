"""`stampreader settings`: what the team has set."""

from __future__ import annotations

from typing import Annotated

import typer

from stampreader.cli.common import JsonOption, RegisterOption, emit_json, now, register_path
from stampreader.cli.person import WhoOption


def command(
    name: Annotated[str | None, typer.Argument(metavar="[NAME]", help="Setting to show.")] = None,
    value: Annotated[
        str | None, typer.Argument(metavar="[VALUE]", help="What to set it to.")
    ] = None,
    who: WhoOption = None,
    register: RegisterOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show the team's settings, or change one; the change is kept in the history."""
    from stampreader.cli.person import who_decides
    from stampreader.errors import UsageError
    from stampreader.register import (
        MEANINGS,
        NoRegister,
        Settings,
        change_setting,
        open_register,
        read_settings,
    )

    settings = Settings()
    try:
        with open_register(register_path(register), create=value is not None) as book:
            if name is not None and value is not None:
                person = who_decides(who, read_settings(book))
                change_setting(book, name, value, who=person, at=now())
            settings = read_settings(book)
    except NoRegister:
        typer.echo("There is no register yet; these are the usual values.", err=True)
    if name is not None and name not in MEANINGS:
        raise UsageError(f"there is no setting {name}", remedy=f"They are {', '.join(MEANINGS)}.")
    rows = [
        {"name": key, "value": getattr(settings, key), "meaning": meaning}
        for key, meaning in MEANINGS.items()
        if name in (None, key)
    ]
    if as_json:
        emit_json(rows)
        return
    for row in rows:
        typer.echo(f"{row['name']:<16} {row['value'] or '-'!s:<10} {row['meaning']}")

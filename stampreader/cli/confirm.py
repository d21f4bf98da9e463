"""`stampreader confirm`: go on confirming what was read and waits."""

from __future__ import annotations

from typing import Annotated

import typer

from stampreader.cli.common import JsonOption, RegisterOption, now, register_path, say
from stampreader.cli.person import WhoOption


def command(
    delivery: Annotated[
        str | None,
        typer.Option("--delivery", metavar="NAME", help="Only this delivery; else all."),
    ] = None,
    undo: Annotated[
        bool, typer.Option("--undo", help="First take back the latest decision, then ask again.")
    ] = False,
    who: WhoOption = None,
    register: RegisterOption = None,
    as_json: JsonOption = False,
) -> None:
    """Confirm readings that wait, one group that agrees at a time."""
    from stampreader.cli.ask import can_ask
    from stampreader.cli.person import who_decides
    from stampreader.cli.sitting import sit_down
    from stampreader.register import open_register, read_settings, undo_last, waiting

    with open_register(register_path(register)) as book:
        person = who_decides(who, read_settings(book))
        if undo:
            undone = undo_last(book, delivery, who=person, at=now())
            taken_back = "nothing to undo" if undone is None else f"undone: {undone.words}"
            say(taken_back)
        arrivals = waiting(book, delivery)
        names = list(dict.fromkeys(arrival.delivery for arrival in arrivals))
        if not names:
            say("Nothing waits to be confirmed.")
            return
        done = sit_down(book, names, person, as_json=as_json)
    if not done and not as_json and not can_ask():
        raise typer.Exit(1)

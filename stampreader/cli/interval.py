"""`stampreader interval`: how often connectors are inspected, per kit, and who asks for what."""

from __future__ import annotations

from typing import Annotated

import typer

from stampreader.cli.common import JsonOption, RegisterOption, now, register_path
from stampreader.cli.person import WhoOption


def command(
    kit: Annotated[
        str | None,
        typer.Argument(metavar="[KIT]", help="Kit or store with an interval of its own."),
    ] = None,
    months: Annotated[
        str | None,
        typer.Argument(metavar="[MONTHS]", help="Months between inspections; 'usual' ends it."),
    ] = None,
    asked: Annotated[
        bool, typer.Option("--asked", help="Show who asks for which interval, with sources.")
    ] = False,
    who: WhoOption = None,
    register: RegisterOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show or set the interval of inspections of a kit; `settings interval_months` is the usual."""
    from stampreader.cli.intervals import set_months, show_intervals, show_regimes
    from stampreader.cli.person import who_decides
    from stampreader.register import open_register, read_intervals, read_settings

    if asked:
        show_regimes(as_json=as_json)
        return
    with open_register(register_path(register)) as book:
        if kit is not None and months is not None:
            person = who_decides(who, read_settings(book))
            set_months(book, kit, months, who=person, at=now())
        show_intervals(read_intervals(book), kit, as_json=as_json)

"""`stampreader margin`: what margin connectors leave under a load, against the team's ratio."""

from __future__ import annotations

from typing import Annotated

import typer

from stampreader.cli.common import JsonOption, RegisterOption
from stampreader.words import Slot


def command(
    load: Annotated[
        str,
        typer.Option(
            "--load",
            metavar="LOAD",
            help="Force on the connector: '2 kN', '450 lbf', '200 kg' or '2 people'.",
        ),
    ],
    ids: Annotated[
        list[str] | None,
        typer.Argument(metavar="ID...", help="Connectors of the register, by their ids."),
    ] = None,
    ratio: Annotated[
        str | None,
        typer.Option(
            "--ratio", metavar="N", help="Strength to load asked for, such as 10; else as set."
        ),
    ] = None,
    figures: Annotated[
        list[str] | None,
        typer.Option(
            "--figures",
            metavar="C/X/O",
            help="Figures closed/cross/open in kN instead of an id, '-' for none: 27/8/7.",
        ),
    ] = None,
    person: Annotated[
        str | None,
        typer.Option(
            "--person", metavar="KN", help="Load of one person with kit, in kN; else as set."
        ),
    ] = None,
    direction: Annotated[
        list[Slot] | None,
        typer.Option(
            "--direction",
            help="Show and judge this direction only; may be given again. Without it all three "
            "are shown and the closed one is judged.",
        ),
    ] = None,
    register: RegisterOption = None,
    as_json: JsonOption = False,
) -> int:
    """Show strength, margin and allowed load of connectors in each direction, weakest first.

    The exit status is 1 if a judged direction is not allowed or unknown.
    """
    from stampreader.cli.margins import ask
    from stampreader.cli.show_margin import show_margins

    answer = ask(ids or [], figures or [], load, ratio, person, direction or [], register)
    show_margins(answer, as_json=as_json)
    return 0 if answer.holds else 1

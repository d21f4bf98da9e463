"""`stampreader rig`: forces and margins in a whole system of ropes, anchors and connectors."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from stampreader.cli.common import JsonOption, RegisterOption
from stampreader.cli.rig_new import READY, Ready


def command(
    plan: Annotated[
        Path | None,
        typer.Argument(metavar="PLAN.toml", help="The plan; with --new the file to write it to."),
    ] = None,
    new: Annotated[
        Ready | None,
        typer.Option("--new", metavar="KIND", help=f"Begin with a ready plan: {READY}."),
    ] = None,
    ratio: Annotated[
        str | None,
        typer.Option("--ratio", metavar="N", help="Strength to force asked for; else the plan's."),
    ] = None,
    way: Annotated[
        str | None,
        typer.Option(
            "--way", metavar="WAY", help="raising, lowering or holding, instead of the plan's."
        ),
    ] = None,
    one_leg: Annotated[
        bool,
        typer.Option("--all-on-one-leg", help="Count the whole pull of an anchor on each leg."),
    ] = False,
    what_if: Annotated[
        bool,
        typer.Option(
            "--what-if",
            help="Show what each single mishap leaves: turned crosswise, gate open, a leg gone.",
        ),
    ] = False,
    vary: Annotated[
        list[str] | None,
        typer.Option(
            "--vary",
            metavar="NAME=FROM..TO",
            help="Vary a number of the plan, such as angle=30..150 or load.force=1..4:0.5.",
        ),
    ] = None,
    explain: Annotated[
        bool, typer.Option("--explain", help="Show the working and the balance at each point.")
    ] = False,
    kit: Annotated[bool, typer.Option("--kit", help="List the hardware the plan needs.")] = False,
    fill: Annotated[
        bool,
        typer.Option(
            "--fill", help="Choose connectors of the register for the plan's open places."
        ),
    ] = False,
    rules_file: Annotated[
        Path | None,
        typer.Option("--rules-file", metavar="FILE", help="With --fill: the team's rules of uses."),
    ] = None,
    picture: Annotated[
        Path | None,
        typer.Option(
            "--picture", metavar="FILE", help="Draw the plan to scale: .svg, .png or .pdf."
        ),
    ] = None,
    register: RegisterOption = None,
    as_json: JsonOption = False,
) -> int:
    """Work out the force on every connector of a rig and the margin each leaves, weakest first.

    The exit status is 1 if any piece is under the ratio, unknown or not to be used.
    """
    from stampreader.cli.rig_new import show_new
    from stampreader.cli.rigging import Wish, ask
    from stampreader.cli.show_rig import show_rig

    if new is not None:
        return show_new(new, plan)
    wish = Wish(
        ratio, way, one_leg, what_if, tuple(vary or ()), explain, kit, picture, fill, rules_file
    )
    answer = ask(plan, wish, register)
    show_rig(answer, as_json=as_json)
    return 0 if answer.worked.outcome.allowed else 1

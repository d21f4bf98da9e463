"""`stampreader move`: connectors go into another kit or store."""

from __future__ import annotations

from typing import Annotated

import typer

from stampreader.cli.common import JsonOption, RegisterOption
from stampreader.cli.life_options import (
    IdsArgument,
    InPlaceOption,
    MaybeWhyOption,
    OfDeliveryOption,
    OnOption,
)
from stampreader.cli.person import WhoOption


def command(
    into: Annotated[
        str, typer.Option("--to", metavar="KIT", help="Kit or store they are put into.")
    ],
    ids: IdsArgument = None,
    place: InPlaceOption = "",
    delivery: OfDeliveryOption = "",
    why: MaybeWhyOption = "",
    on: OnOption = None,
    who: WhoOption = None,
    register: RegisterOption = None,
    as_json: JsonOption = False,
) -> None:
    """Move connectors to another kit or store."""
    from stampreader.cli.life_steps import Chosen, Told, record_step
    from stampreader.register import Kind, clean_place, move

    kit = clean_place(into)
    told = Told(f"moved to {kit}", who, on, register, as_json)
    chosen = Chosen(ids or [], place, delivery)
    record_step(chosen, Kind.MOVED, move, told, place=kit, reason=why)

"""`stampreader quarantine`: connectors are kept apart and not used."""

from __future__ import annotations

from typing import Annotated

import typer

from stampreader.cli.common import JsonOption, RegisterOption
from stampreader.cli.life_options import (
    IdsArgument,
    InPlaceOption,
    IntoOption,
    OfDeliveryOption,
    OnOption,
    WhyOption,
)
from stampreader.cli.person import WhoOption


def command(
    why: WhyOption,
    ids: IdsArgument = None,
    place: InPlaceOption = "",
    delivery: OfDeliveryOption = "",
    reference: Annotated[
        str, typer.Option("--reference", metavar="NOTICE", help="Number of the notice, if any.")
    ] = "",
    into: IntoOption = "",
    on: OnOption = None,
    who: WhoOption = None,
    register: RegisterOption = None,
    as_json: JsonOption = False,
) -> None:
    """Set connectors apart at once; they stay so until a competent person releases them."""
    from stampreader.cli.life_steps import Chosen, Told, record_step
    from stampreader.register import Kind, clean_place, quarantine

    kit = clean_place(into) if into else ""
    told = Told("quarantined, not to be used", who, on, register, as_json)
    chosen = Chosen(ids or [], place, delivery)
    record_step(
        chosen, Kind.QUARANTINED, quarantine, told, reason=why, place=kit, reference=reference
    )

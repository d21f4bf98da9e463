"""`stampreader service`: connectors go into service."""

from __future__ import annotations

from stampreader.cli.common import JsonOption, RegisterOption
from stampreader.cli.life_options import (
    IdsArgument,
    InPlaceOption,
    IntoOption,
    OfDeliveryOption,
    OnOption,
)
from stampreader.cli.person import WhoOption


def command(
    ids: IdsArgument = None,
    place: InPlaceOption = "",
    delivery: OfDeliveryOption = "",
    into: IntoOption = "",
    on: OnOption = None,
    who: WhoOption = None,
    register: RegisterOption = None,
    as_json: JsonOption = False,
) -> None:
    """Put registered connectors in service, in a kit if one is given."""
    from stampreader.cli.life_steps import Chosen, Told, record_step
    from stampreader.register import Kind, clean_place, put_in_service

    kit = clean_place(into) if into else ""
    said = f"in service{f', in {kit}' if kit else ''}"
    told = Told(said, who, on, register, as_json)
    chosen = Chosen(ids or [], place, delivery)
    record_step(chosen, Kind.PUT_IN_SERVICE, put_in_service, told, place=kit)

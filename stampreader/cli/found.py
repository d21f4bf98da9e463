"""`stampreader found`: lost connectors turned up."""

from __future__ import annotations

from stampreader.cli.common import JsonOption, RegisterOption
from stampreader.cli.life_options import IdsArgument, IntoOption, MaybeWhyOption, OnOption
from stampreader.cli.person import WhoOption


def command(
    ids: IdsArgument = None,
    into: IntoOption = "",
    why: MaybeWhyOption = "",
    on: OnOption = None,
    who: WhoOption = None,
    register: RegisterOption = None,
    as_json: JsonOption = False,
) -> None:
    """Record that lost connectors were found; they stay quarantined until inspected."""
    from stampreader.cli.life_steps import Chosen, Told, record_step
    from stampreader.register import Kind, clean_place, report_found

    kit = clean_place(into) if into else ""
    told = Told("found; quarantined until inspected and released", who, on, register, as_json)
    record_step(Chosen(ids or []), Kind.FOUND, report_found, told, reason=why, place=kit)

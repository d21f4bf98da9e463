"""`stampreader lost`: nobody knows where connectors are."""

from __future__ import annotations

from stampreader.cli.common import JsonOption, RegisterOption
from stampreader.cli.life_options import IdsArgument, MaybeWhyOption, OnOption
from stampreader.cli.person import WhoOption


def command(
    ids: IdsArgument = None,
    why: MaybeWhyOption = "",
    on: OnOption = None,
    who: WhoOption = None,
    register: RegisterOption = None,
    as_json: JsonOption = False,
) -> None:
    """Record that connectors are lost."""
    from stampreader.cli.life_steps import Chosen, Told, record_step
    from stampreader.register import Kind, report_lost

    told = Told("lost", who, on, register, as_json)
    record_step(Chosen(ids or []), Kind.LOST, report_lost, told, reason=why)

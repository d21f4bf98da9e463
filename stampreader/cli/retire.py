"""`stampreader retire`: connectors leave service for good."""

from __future__ import annotations

from stampreader.cli.common import JsonOption, RegisterOption
from stampreader.cli.life_options import IdsArgument, IntoOption, OnOption, WhyOption
from stampreader.cli.person import WhoOption


def command(
    why: WhyOption,
    ids: IdsArgument = None,
    into: IntoOption = "",
    on: OnOption = None,
    who: WhoOption = None,
    register: RegisterOption = None,
    as_json: JsonOption = False,
) -> None:
    """Retire connectors for good; spoil them so that they cannot come back into use.

    Usual reasons: worn, deformed, corroded, gate at fault; a fall or shock load; marks not
    legible; history unknown; recalled; age.
    """
    from stampreader.cli.life_steps import Chosen, Told, record_step
    from stampreader.register import Kind, clean_place, retire

    kit = clean_place(into) if into else ""
    told = Told("retired for good; spoil it so that it cannot return", who, on, register, as_json)
    record_step(Chosen(ids or []), Kind.RETIRED, retire, told, reason=why, place=kit)

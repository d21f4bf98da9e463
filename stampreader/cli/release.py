"""`stampreader release`: a named competent person ends a quarantine."""

from __future__ import annotations

from typing import Annotated

import typer

from stampreader.cli.common import JsonOption, RegisterOption
from stampreader.cli.life_options import IdsArgument, IntoOption, OnOption, WhyOption
from stampreader.cli.person import WhoOption


def command(
    by: Annotated[str, typer.Option("--by", metavar="NAME", help="Name of the competent person.")],
    why: WhyOption,
    ids: IdsArgument = None,
    into: IntoOption = "",
    on: OnOption = None,
    who: WhoOption = None,
    register: RegisterOption = None,
    as_json: JsonOption = False,
) -> None:
    """Release quarantined connectors in the name of a competent person, with the reason.

    After a failed inspection, or when it was lost and found, it must have passed one since.
    """
    from stampreader.cli.life_steps import Chosen, Told, record_step
    from stampreader.register import Kind, clean_place, release

    kit = clean_place(into) if into else ""
    told = Told(f"released by {' '.join(by.split())}", who, on, register, as_json)
    record_step(
        Chosen(ids or []), Kind.RELEASED, release, told,
        competent_person=by, reason=why, place=kit,
    )  # fmt: skip

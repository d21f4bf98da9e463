"""`stampreader trace`: every connector a notice or recall speaks of, and where it is."""

from __future__ import annotations

from typing import Annotated

import typer

from stampreader.cli.common import JsonOption, RegisterOption
from stampreader.cli.life_options import OnOption
from stampreader.cli.person import WhoOption

_SPANS = "one, several with commas, a range A100..A250, or a beginning A1*"


def command(
    maker: Annotated[str, typer.Option("--maker", help="Maker named in the notice.")] = "",
    model: Annotated[str, typer.Option("--model", help="Model named in the notice.")] = "",
    batch: Annotated[str, typer.Option("--batch", help=f"Batches: {_SPANS}.")] = "",
    serial: Annotated[str, typer.Option("--serial", help=f"Serial numbers: {_SPANS}.")] = "",
    made: Annotated[
        str, typer.Option("--made", help="Year or month of manufacture, or 2019..2021.")
    ] = "",
    delivery: Annotated[str, typer.Option("--delivery", help="Delivery they came with.")] = "",
    quarantine: Annotated[
        bool, typer.Option("--quarantine", help="Set all of them apart, all or none.")
    ] = False,
    reference: Annotated[
        str, typer.Option("--reference", metavar="NOTICE", help="Number or name of the notice.")
    ] = "",
    why: Annotated[
        str, typer.Option("--why", metavar="REASON", help="What the notice says, in a few words.")
    ] = "",
    doubtful: Annotated[
        bool | None,
        typer.Option(
            "--doubtful-too/--only-certain", help="Set apart, or leave, what cannot be ruled out."
        ),
    ] = None,
    on: OnOption = None,
    who: WhoOption = None,
    register: RegisterOption = None,
    as_json: JsonOption = False,
) -> None:
    """Find every connector of a maker, model, batch, serial range or year; list where each is.

    Those whose batch, serial or year was never recorded cannot be ruled out and are listed too.
    """
    from stampreader.cli.tracing import Notice, quarantine_all, show_trace, typed_wanted

    wanted = typed_wanted(
        maker=maker, model=model, delivery=delivery, batch=batch, serial=serial, made=made
    )
    if quarantine:
        notice = Notice(reference, why, on, who, doubtful)
        quarantine_all(register, wanted, notice, as_json=as_json)
    else:
        show_trace(register, wanted, as_json=as_json)

"""`stampreader inspect`: what a competent person found on connectors."""

from __future__ import annotations

from typing import Annotated

import typer

from stampreader.cli.common import JsonOption, RegisterOption
from stampreader.cli.life_options import IdsArgument, InPlaceOption, OfDeliveryOption, OnOption
from stampreader.cli.person import WhoOption

_HOW = "[ID=]POINT[: NOTE]"


def command(
    ids: IdsArgument = None,
    place: InPlaceOption = "",
    delivery: OfDeliveryOption = "",
    failed: Annotated[
        list[str] | None, typer.Option("--fail", metavar=_HOW, help="A point that fails.")
    ] = None,
    passed: Annotated[
        list[str] | None, typer.Option("--pass", metavar=_HOW, help="A point that passes.")
    ] = None,
    without: Annotated[
        list[str] | None,
        typer.Option("--without", metavar=_HOW, help="A point that does not apply."),
    ] = None,
    rest_passes: Annotated[
        bool, typer.Option("--rest-passes", help="Every other point was looked at and passes.")
    ] = False,
    measured: Annotated[
        list[str] | None,
        typer.Option("--measured", metavar="[ID=]WHAT: VALUE", help="Such as 'groove: 0.8 mm'."),
    ] = None,
    note: Annotated[str, typer.Option("--note", help="A remark on the whole inspection.")] = "",
    photos: Annotated[
        list[str] | None,
        typer.Option(
            "--photo", metavar="[ID=]PHOTO", help="Keep a photo, compared with the entry."
        ),
    ] = None,
    occasion: Annotated[
        str, typer.Option("--occasion", help="Why now: before service, after a fall, …")
    ] = "at its interval",
    retire: Annotated[
        str, typer.Option("--retire", metavar="REASON", help="Retire what fails, for this reason.")
    ] = "",
    points: Annotated[bool, typer.Option("--points", help="Show the points to look at.")] = False,
    on: OnOption = None,
    who: WhoOption = None,
    register: RegisterOption = None,
    as_json: JsonOption = False,
) -> int:
    """Record inspections. Any point that fails quarantines the connector, unless it is retired.

    At a terminal each point not named is asked about; --rest-passes passes all but the named.
    The exit status is 1 if a connector fails.
    """
    from stampreader.cli.inspecting import Findings, inspect_chosen, show_points
    from stampreader.cli.life_steps import Chosen, Told

    if points:
        return show_points(ids or [], register, as_json=as_json)
    findings = Findings(
        failed=failed or [], passed=passed or [], without=without or [], measured=measured or [],
        photos=photos or [], rest_passes=rest_passes, note=note, occasion=occasion, retire=retire,
    )  # fmt: skip
    chosen = Chosen(ids or [], place, delivery)
    return inspect_chosen(chosen, findings, Told("inspected", who, on, register, as_json))

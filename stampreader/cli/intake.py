"""`stampreader intake`: a delivery's photos into the register, confirmed by a person."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from stampreader.cli.common import JsonOption, RegisterOption, now, register_path
from stampreader.cli.machines import JobsOption, ReadersOption, SchedulerOption
from stampreader.cli.person import WhoOption


def command(
    photos: Annotated[
        list[Path],
        typer.Argument(metavar="PHOTO|FOLDER...", help="Photos, or folders of photos."),
    ],
    delivery: Annotated[
        str, typer.Option("--delivery", metavar="NAME", help="Name of the delivery.")
    ],
    expect: Annotated[
        list[str] | None,
        typer.Option(
            "--expect",
            metavar="ORDER",
            help='What was ordered: "count=40; maker=…; model=…; figures=27/8/7; marks=CE 9123, '
            'EN 362/B"; once for each line of the order.',
        ),
    ] = None,
    photos_per_connector: Annotated[
        int,
        typer.Option(
            "--photos-per-connector",
            min=1,
            max=20,
            help="Photos taken of each connector, in file order, where no label tells.",
        ),
    ] = 1,
    jobs: JobsOption = None,
    scheduler: SchedulerOption = None,
    readers: ReadersOption = None,
    who: WhoOption = None,
    register: RegisterOption = None,
    as_json: JsonOption = False,
) -> None:
    """Read the photos of a delivery, confirm what was read, and enter it in the register."""
    from stampreader.cli.deliveries import typed_orders
    from stampreader.cli.person import who_decides
    from stampreader.cli.sitting import sit_down, tell_report
    from stampreader.cli.taking_in import take_in
    from stampreader.photo import find_photos
    from stampreader.register import clean_fields, keep_order, open_register, read_settings

    name = clean_fields({"delivery": delivery})["delivery"]
    orders = typed_orders(expect or ())
    with open_register(register_path(register), create=True) as book:
        person = who_decides(who, read_settings(book))
        if orders:
            keep_order(book, name, [order.as_json() for order in orders], who=person, at=now())
        report = take_in(
            book,
            find_photos(photos),
            name,
            per_connector=photos_per_connector,
            readers=readers.split(",") if readers else None,
            jobs=jobs,
            scheduler=scheduler,
            clock=now,
        )
        tell_report(report)
        sit_down(book, [name], person, as_json=as_json)
    if report.failed:
        raise typer.Exit(1)

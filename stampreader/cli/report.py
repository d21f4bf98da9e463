"""`stampreader report`: pages to sign and file, and tables for a spreadsheet."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from stampreader.cli.common import JsonOption, RegisterOption
from stampreader.cli.printing import OverwriteOption, PaperOption


class Report(StrEnum):
    """The reports there are."""

    CARD = "card"
    REGISTER = "register"
    DUE = "due"
    DELIVERY = "delivery"
    INSPECTIONS = "inspections"


def command(
    what: Annotated[
        Report, typer.Argument(help="card ID..., register, due, delivery NAME, or inspections.")
    ],
    names: Annotated[
        list[str] | None,
        typer.Argument(metavar="[ID|NAME]...", help="Ids for cards, or the delivery's name."),
    ] = None,
    to: Annotated[
        list[Path],
        typer.Option(
            "--to",
            metavar="FILE",
            help="File to write: .pdf, .html, .csv or .xlsx. May be given again.",
        ),
    ] = ...,  # type: ignore[assignment]
    on: Annotated[
        str,
        typer.Option(
            "--on", metavar="DAY", help="Day of the inspections, or of the due list; else today."
        ),
    ] = "",
    days: Annotated[
        int | None,
        typer.Option("--days", min=0, help="How far ahead due inspections are listed."),
    ] = None,
    state: Annotated[
        list[str] | None,
        typer.Option("--state", help="Register: only in this state; may be given again."),
    ] = None,
    delivery: Annotated[str, typer.Option("--delivery", help="Only of this delivery.")] = "",
    place: Annotated[str, typer.Option("--place", help="Only in this kit or store.")] = "",
    load: Annotated[
        str | None,
        typer.Option("--load", metavar="LOAD", help="Cards: show the margins under this load."),
    ] = None,
    ratio: Annotated[
        str | None,
        typer.Option(
            "--ratio", metavar="N", help="Cards: strength to load asked for; else as set."
        ),
    ] = None,
    paper: PaperOption = "a4",
    overwrite: OverwriteOption = False,
    as_json: JsonOption = False,
    register: RegisterOption = None,
) -> None:
    """Write a report as PDF or HTML to sign and file, or its tables as CSV or XLSX."""
    from stampreader.cli.common import now
    from stampreader.cli.reports import Asked, write_reports

    asked = Asked(
        what=what, names=tuple(names or ()), files=tuple(to), at=now(), on=on, days=days,
        states=tuple(state or ()), delivery=delivery, place=place, load=load, ratio=ratio,
        paper=paper, overwrite=overwrite, as_json=as_json, register=register,
    )  # fmt: skip
    write_reports(asked)

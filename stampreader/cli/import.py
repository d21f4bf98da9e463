# ruff: noqa: N999 - the command is called import
"""`stampreader import`: an exchange file or a spreadsheet into the register."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from stampreader.cli.common import JsonOption, RegisterOption
from stampreader.cli.person import WhoOption

DryRunOption = Annotated[
    bool, typer.Option("--dry-run", help="Show what would happen; store nothing.")
]


def command(
    file: Annotated[
        Path, typer.Argument(help="Exchange file (.jsonl) or spreadsheet (.csv, .xlsx).")
    ],
    maps: Annotated[
        list[str] | None,
        typer.Option(
            "--map",
            metavar="HEADING=FIELD",
            help="What a column is: id, maker, model, serial, batch, made_on, shape, material, "
            "gate, delivery, note, closed_kN, cross_kN, open_kN, figures, marks, place, "
            "in_service_on, inspected_on, retired_on, retired_because; - leaves it out.",
        ),
    ] = None,
    sheet: Annotated[
        str, typer.Option("--sheet", help="Sheet of a workbook; else its first.")
    ] = "",
    heading_row: Annotated[
        int, typer.Option("--heading-row", min=1, help="Row that holds the headings.")
    ] = 1,
    encoding: Annotated[str, typer.Option("--encoding", help="Of a CSV file; else UTF-8.")] = "",
    dates: Annotated[
        str, typer.Option("--dates", help="Days with slashes: dmy (day first) or mdy.")
    ] = "iso",
    skip_refused: Annotated[
        bool, typer.Option("--skip-refused", help="Enter the good rows, leave out the others.")
    ] = False,
    dry_run: DryRunOption = False,
    who: WhoOption = None,
    as_json: JsonOption = False,
    register: RegisterOption = None,
) -> int:
    """Import an exchange file or a spreadsheet: all of it, or nothing.

    The exit status is 1 if a row is refused or a conflict is to be settled.
    """
    from stampreader.cli.importing import Wanted, import_file

    return import_file(
        Wanted(
            file=file, maps=tuple(maps or ()), sheet=sheet, heading_row=heading_row,
            encoding=encoding, dates=dates, skip_refused=skip_refused, dry_run=dry_run, who=who,
            as_json=as_json, register=register,
        )
    )  # fmt: skip

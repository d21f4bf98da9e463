"""Options by which the fields of an entry are given, shared by `add` and `correct`."""

from __future__ import annotations

from typing import Annotated

import typer

IdOption = Annotated[str | None, typer.Option("--id", help="Id on its label; else the next free.")]
MakerOption = Annotated[str | None, typer.Option("--maker", help="Who made it.")]
ModelOption = Annotated[str | None, typer.Option("--model", help="Model as the maker calls it.")]
SerialOption = Annotated[str | None, typer.Option("--serial", help="Serial number.")]
BatchOption = Annotated[str | None, typer.Option("--batch", help="Batch or lot.")]
MadeOption = Annotated[
    str | None, typer.Option("--made-on", help="Date of manufacture: 2024, 2024-05 or 2024-05-31.")
]
FiguresOption = Annotated[
    str | None,
    typer.Option("--figures", help="Closed/cross/open in kN as stamped, - for not stamped."),
]
MarksOption = Annotated[
    str | None, typer.Option("--marks", help="Marks, separated by commas: CE 9123, EN 362/B.")
]
SetOption = Annotated[
    list[str] | None,
    typer.Option(
        "--set",
        metavar="NAME=VALUE",
        help="Another field: shape, material, gate, delivery, note, closed_kN, cross_kN, open_kN.",
    ),
]

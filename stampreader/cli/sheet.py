"""`stampreader sheet`: the sheet that connectors are laid on for one photo."""

from __future__ import annotations

from typing import Annotated

import typer

from stampreader.cli.common import JsonOption, RegisterOption
from stampreader.cli.printing import OverwriteOption, PaperOption, ToOption


def command(
    ids: Annotated[
        list[str] | None,
        typer.Argument(metavar="ID...", help="Connectors of the register, one a cell."),
    ] = None,
    to: ToOption = ...,  # type: ignore[assignment]
    delivery: Annotated[
        str, typer.Option("--delivery", help="All connectors of this delivery.")
    ] = "",
    new: Annotated[
        int,
        typer.Option("--new", min=0, metavar="N", help="The next N ids that are not used yet."),
    ] = 0,
    start: Annotated[
        str, typer.Option("--from", metavar="ID", help="With --new: begin at this id.")
    ] = "",
    cells: Annotated[
        int,
        typer.Option(
            "--cells", help="Cells a sheet: 4 for large connectors, 6, 9, or 12 for quick links."
        ),
    ] = 6,
    paper: PaperOption = "a4",
    title: Annotated[str, typer.Option("--title", help="Words for the head of the sheet.")] = "",
    overwrite: OverwriteOption = False,
    as_json: JsonOption = False,
    register: RegisterOption = None,
) -> None:
    """Print a photo sheet: lay a connector on each cell and take one photo of it all."""
    from stampreader.cli.common import now
    from stampreader.cli.labelled import chosen
    from stampreader.cli.printing import (
        paper_named,
        printing_tools,
        refuse_taken,
        tell_written,
        write_file,
    )
    from stampreader.errors import UsageError
    from stampreader.paper import GRIDS, layout_named

    with printing_tools():
        from stampreader.report.photo_sheet import photo_sheet_pdf
    layout = layout_named(paper_named(paper).name, cells)
    if layout is None:
        counts = ", ".join(str(columns * rows) for columns, rows in GRIDS)
        raise UsageError(f"there is no sheet of {cells} cells", remedy=f"Take one of {counts}.")
    refuse_taken([to], overwrite=overwrite)
    wanted = [id for id, _ in chosen(register, ids or [], delivery=delivery, new=new, start=start)]
    write_file(to, photo_sheet_pdf(wanted, layout, now(), title or delivery))
    sheets = -(-len(wanted) // layout.cells_count)
    tell_written(to, as_json=as_json, sheets=sheets, ids=wanted)

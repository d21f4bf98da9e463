"""`stampreader labels`: labels with a QR code for connectors."""

from __future__ import annotations

from typing import Annotated

import typer

from stampreader.cli.common import JsonOption, RegisterOption
from stampreader.cli.printing import OverwriteOption, PaperOption, ToOption


def command(
    ids: Annotated[
        list[str] | None, typer.Argument(metavar="ID...", help="Connectors to label.")
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
    grid: Annotated[
        str,
        typer.Option(
            "--grid",
            help="a4-14, a4-21, a4-24, a4-40, a4-65, letter-10, letter-30, letter-80, a4-tags, "
            "letter-tags, or COLUMNSxROWS@WIDTHxHEIGHT[+LEFT+TOP][/ACROSSxDOWN] in mm.",
        ),
    ] = "a4-24",
    paper: PaperOption = "a4",
    skip: Annotated[
        int, typer.Option("--skip", min=0, help="Places already used on the first sheet.")
    ] = 0,
    copies: Annotated[int, typer.Option("--copies", min=1, help="How many of each.")] = 1,
    overwrite: OverwriteOption = False,
    as_json: JsonOption = False,
    register: RegisterOption = None,
) -> None:
    """Print labels with QR code and id for a label sheet or as tags, as a PDF."""
    from stampreader.cli.common import now
    from stampreader.cli.labelled import chosen
    from stampreader.cli.printing import (
        paper_named,
        printing_tools,
        refuse_taken,
        tell_written,
        write_file,
    )

    with printing_tools():
        from stampreader.report.labels import Label, labels_pdf, parse_grid
    layout = parse_grid(grid, paper_named(paper))
    refuse_taken([to], overwrite=overwrite)
    wanted = chosen(register, ids or [], delivery=delivery, new=new, start=start)
    labels = [Label(id, lines) for id, lines in wanted]
    data = labels_pdf(labels, layout, now(), skip=skip, copies=copies)
    write_file(to, data)
    tell_written(to, as_json=as_json, labels=len(labels) * copies, ids=[id for id, _ in wanted])

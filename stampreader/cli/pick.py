"""`stampreader pick`: connectors fit for a use, and a kit drawn from them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from stampreader.cli.common import JsonOption, RegisterOption


def command(
    ids: Annotated[
        list[str] | None, typer.Argument(metavar="ID...", help="Only look at these connectors.")
    ] = None,
    use: Annotated[
        list[str] | None,
        typer.Option(
            "--use", metavar="USE[:COUNT]", help="What for, and how many; may be given again."
        ),
    ] = None,
    load: Annotated[
        str | None,
        typer.Option(
            "--load", metavar="LOAD", help="Planned force: '2 kN', '450 lbf', '2 people'."
        ),
    ] = None,
    ratio: Annotated[
        str | None,
        typer.Option("--ratio", metavar="N", help="Strength to load asked for; else as set."),
    ] = None,
    place: Annotated[str, typer.Option("--place", help="Only from this kit or store.")] = "",
    delivery: Annotated[str, typer.Option("--delivery", help="Only of this delivery.")] = "",
    maker: Annotated[str, typer.Option("--maker", help="Only of this maker.")] = "",
    model: Annotated[str, typer.Option("--model", help="Only of this model.")] = "",
    to: Annotated[
        list[Path] | None,
        typer.Option(
            "--to", metavar="FILE", help="Print the kit list: .pdf, .html, .csv or .xlsx."
        ),
    ] = None,
    name: Annotated[str, typer.Option("--name", help="Name of the kit, for its list.")] = "Kit",
    paper: Annotated[str, typer.Option("--paper", help="a4 or letter.")] = "a4",
    overwrite: Annotated[
        bool, typer.Option("--overwrite", help="Write over a file that exists.")
    ] = False,
    limit: Annotated[
        int,
        typer.Option("--limit", min=0, help="List at most so many of each kind; 0 for all."),
    ] = 200,
    rules: Annotated[
        bool, typer.Option("--rules", help="Show what each use asks, and why.")
    ] = False,
    rules_file: Annotated[
        Path | None,
        typer.Option(
            "--rules-file", metavar="FILE", help="The team's rules; else uses.toml by the register."
        ),
    ] = None,
    register: RegisterOption = None,
    as_json: JsonOption = False,
) -> int:
    """List what qualifies for a use and what does not and why; draw up and print a kit.

    The exit status is 1 if a kit cannot be filled.
    """
    from stampreader.cli.picking import Wish, pick, show_rules
    from stampreader.cli.show_pick import show_pick
    from stampreader.register import Shelf

    if rules:
        show_rules(register, rules_file, as_json=as_json)
        return 0
    wish = Wish(
        uses=tuple(use or ()), ids=tuple(ids or ()), shelf=Shelf(place, delivery, maker, model),
        load=load, ratio=ratio, limit=limit, rules_file=rules_file, files=tuple(to or ()),
        name=name, paper=paper, overwrite=overwrite,
    )  # fmt: skip
    picked = pick(wish, register)
    show_pick(picked, as_json=as_json)
    return 1 if picked.drawn.missing else 0

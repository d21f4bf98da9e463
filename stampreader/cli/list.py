"""`stampreader list`: connectors of the register."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from stampreader.cli.common import JsonOption, RegisterOption, emit_json, register_path, say

SCREENFUL = 200
"""Rows shown on a terminal unless more are asked for."""


def command(
    state: Annotated[
        list[str] | None,
        typer.Option("--state", help="registered, in-service, quarantined, lost or retired."),
    ] = None,
    maker: Annotated[str, typer.Option("--maker", help="Only this maker.")] = "",
    model: Annotated[str, typer.Option("--model", help="Only this model.")] = "",
    serial: Annotated[str, typer.Option("--serial", help="Only this serial number.")] = "",
    batch: Annotated[str, typer.Option("--batch", help="Only this batch.")] = "",
    delivery: Annotated[str, typer.Option("--delivery", help="Only this delivery.")] = "",
    place: Annotated[str, typer.Option("--place", help="Only this kit or store.")] = "",
    mark: Annotated[str, typer.Option("--mark", help="Only with this mark, such as CE 9123.")] = "",
    at_least: Annotated[
        str, typer.Option("--at-least", metavar="kN", help="Closed strength at least this.")
    ] = "",
    conflicts: Annotated[
        bool, typer.Option("--conflicts", help="Only where merged stations disagree.")
    ] = False,
    sort: Annotated[
        str,
        typer.Option(
            "--sort",
            help="id, maker, model, delivery, batch, serial, made, place, state, closed or due.",
        ),
    ] = "id",
    backwards: Annotated[bool, typer.Option("--backwards", help="In reverse order.")] = False,
    limit: Annotated[
        int | None,
        typer.Option("--limit", min=0, help="At most so many; 0 for all. 200 on a terminal."),
    ] = None,
    as_csv: Annotated[bool, typer.Option("--csv", help="Print CSV for a spreadsheet.")] = False,
    as_json: JsonOption = False,
    register: RegisterOption = None,
) -> None:
    """List connectors of the register."""
    from stampreader.cli.choosing import typed_filter
    from stampreader.cli.show_connectors import list_lines, list_row
    from stampreader.errors import UsageError
    from stampreader.register import (
        COLUMNS,
        count_connectors,
        list_connectors,
        open_register,
        write_csv,
    )

    if as_csv and as_json:
        raise UsageError("--csv and --json exclude each other", remedy="Give one of them.")
    which = typed_filter(
        state or (), mark=mark, at_least=at_least, in_conflict=conflicts, maker=maker, model=model,
        serial=serial, batch=batch, delivery=delivery, place=place,
    )  # fmt: skip
    most = limit if limit is not None else SCREENFUL if sys.stdout.isatty() else 0
    with open_register(register_path(register)) as book:
        found = list_connectors(book, which, sort=sort, backwards=backwards, limit=most)
        if as_json:
            emit_json(map(list_row, found))
        elif as_csv:
            write_csv(sys.stdout, map(list_row, found), (*COLUMNS, "remarks"))
        elif not found:
            say("No connector fits.")
        else:
            typer.echo("\n".join(list_lines(found)))
        if most and len(found) == most:
            total = count_connectors(book, which)
            if total > most:
                say(f"{most} of {total} shown; --limit 0 shows all.")

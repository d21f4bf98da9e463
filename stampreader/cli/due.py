"""`stampreader due`: inspections that are overdue or soon due."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from stampreader.cli.common import JsonOption, RegisterOption, emit_json, now, register_path, say
from stampreader.cli.list import SCREENFUL


def command(
    days: Annotated[
        int | None,
        typer.Option("--days", min=0, max=3650, help="How far to look ahead; else as set."),
    ] = None,
    place: Annotated[str, typer.Option("--place", help="Only in this kit or store.")] = "",
    delivery: Annotated[str, typer.Option("--delivery", help="Only of this delivery.")] = "",
    calendar: Annotated[
        Path | None,
        typer.Option("--calendar", metavar="FILE.ics", help="Write them for a calendar, too."),
    ] = None,
    overwrite: Annotated[
        bool, typer.Option("--overwrite", help="Write over a calendar file that exists.")
    ] = False,
    limit: Annotated[
        int | None,
        typer.Option("--limit", min=0, help="At most so many; 0 for all. 200 on a terminal."),
    ] = None,
    as_json: JsonOption = False,
    register: RegisterOption = None,
) -> None:
    """List inspections overdue or soon due, the longest overdue first; write them as a calendar."""
    from stampreader.cli.calendar import write_calendar
    from stampreader.cli.show_due import due_json, due_lines
    from stampreader.register import count_due, list_due, open_register, read_settings

    today = now().astimezone().date()
    most = limit if limit is not None else SCREENFUL if sys.stdout.isatty() else 0
    with open_register(register_path(register)) as book:
        settings = read_settings(book)
        within = settings.due_soon_days if days is None else days
        asked = {"today": today, "within_days": within, "place": place, "delivery": delivery}
        found = list_due(book, limit=most, **asked)  # type: ignore[arg-type]
        total = count_due(book, **asked) if most and len(found) == most else len(found)  # type: ignore[arg-type]
        if calendar is not None:
            whole = found if total == len(found) else list_due(book, **asked)  # type: ignore[arg-type]
            write_calendar(calendar, whole, now(), team=settings.team, overwrite=overwrite)
    if as_json:
        emit_json(due_json(found, today))
    elif not found:
        say(f"No inspection is overdue or due within {within} days.")
    else:
        typer.echo("\n".join(due_lines(found, today)))
    if total > len(found):
        say(f"{len(found)} of {total} shown; --limit 0 shows all.")

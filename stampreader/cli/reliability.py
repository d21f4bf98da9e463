"""`stampreader reliability`: how often `sure` was right on the team's own photos."""

from __future__ import annotations

import typer

from stampreader.cli.common import JsonOption, RegisterOption, emit_json, register_path


def command(register: RegisterOption = None, as_json: JsonOption = False) -> None:
    """Compare what was read as sure with what was confirmed; tell whether the promise holds."""
    from stampreader.cli.show_reliability import report, report_lines
    from stampreader.register import open_register, read_settings
    from stampreader.register.reliability import sure_figures

    with open_register(register_path(register)) as book:
        found = report(list(sure_figures(book).values()), read_settings(book).ask_below)
    if as_json:
        emit_json([found])
    else:
        typer.echo("\n".join(report_lines(found)))
    if found["verdict"] == "broken":
        raise typer.Exit(1)

"""The table of commands. Each lives in a module of its own; heavy rooms load in its body."""

from __future__ import annotations

import importlib
from typing import Annotated

import typer

from stampreader import __version__

COMMANDS: tuple[str, ...] = (
    "read",
    "capture-guide",
    "intake",
    "confirm",
    "review",
    "reliability",
    "verify",
    "list",
    "show",
    "correct",
    "add",
    "settings",
    "service",
    "move",
    "inspect",
    "quarantine",
    "release",
    "retire",
    "lost",
    "found",
    "interval",
    "due",
    "pick",
    "trace",
    "margin",
    "standards",
    "rig",
    "labels",
    "sheet",
    "report",
    "export",
    "import",
    "merge",
    "conflicts",
    "settle",
    "backup",
    "check",
)
"""Names of commands, in the order `--help` lists them; module `stampreader.cli.<name with _>`."""

app = typer.Typer(
    help="Read the strength figures stamped on connectors and keep a register of them.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def _show_version(value: bool) -> None:
    if value:
        typer.echo(f"stampreader {__version__}")
        raise typer.Exit()


@app.callback()
def root(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_show_version, is_eager=True, help="Show the version."),
    ] = False,
) -> None:
    """Read the strength figures stamped on connectors and keep a register of them."""


for _name in COMMANDS:
    _module = importlib.import_module(f"stampreader.cli.{_name.replace('-', '_')}")
    app.command(_name)(_module.command)

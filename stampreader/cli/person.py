"""Whose name stands beside a decision."""

from __future__ import annotations

import getpass
from typing import TYPE_CHECKING, Annotated

import typer

from stampreader.errors import UsageError

if TYPE_CHECKING:
    from stampreader.register import Settings

WhoOption = Annotated[
    str | None,
    typer.Option(
        "--who", metavar="NAME", help="Your name, for the history; else the setting `person`."
    ),
]


def who_decides(given: str | None, settings: Settings) -> str:
    """The name as given, else as set, else the login name of this computer.

    Raises:
        UsageError: an empty name, and none can be found.
    """
    name = " ".join((given if given is not None else settings.person or _login()).split())
    if not name or len(name) > 80 or not name.isprintable():
        raise UsageError("a name is needed", remedy="Give --who NAME.")
    return name


def _login() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return ""

"""What commands share: the register's place, JSON output, the clock, the caution."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Any

import typer

from stampreader.words import CAUTION

RegisterOption = Annotated[
    Path | None,
    typer.Option("--register", help="Register file; else $STAMPREADER_REGISTER, else your own."),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON Lines instead of a table.")]


def register_path(given: Path | None) -> Path:
    """The register's file: as given, else from the environment, else the user data folder."""
    if given is not None:
        return given
    named = os.environ.get("STAMPREADER_REGISTER")
    if named:
        return Path(named)
    import platformdirs

    return Path(platformdirs.user_data_dir("stampreader", appauthor=False)) / "register.sqlite"


def now() -> datetime:
    """The present time in UTC; rooms below are given it, they never ask."""
    return datetime.now(UTC)


def plain(value: Any) -> Any:
    """A value as JSON can hold it: whole decimals as integers, others as numbers."""
    if isinstance(value, Decimal):
        return int(value) if value == value.to_integral_value() else float(value)
    if isinstance(value, Mapping):
        return {str(k): plain(v) for k, v in value.items()}
    if isinstance(value, str | int | float | bool) or value is None:
        return value
    if isinstance(value, datetime | Path):
        return str(value)
    if isinstance(value, Iterable):
        return [plain(v) for v in value]
    return str(value)


def emit_json(rows: Iterable[Mapping[str, Any]]) -> None:
    """Print one JSON object a line on standard output, each as soon as it is known.

    What the output cannot hold (a file name with broken bytes, another code page) is escaped.
    """
    for row in rows:
        text = json.dumps(plain(row), ensure_ascii=False)
        try:
            text.encode(sys.stdout.encoding or "utf-8")
        except UnicodeEncodeError:
            text = json.dumps(plain(row))
        sys.stdout.write(text + "\n")
        sys.stdout.flush()


def say(message: str) -> None:
    """A message for the person, on standard error so that output stays clean."""
    typer.echo(message, err=True)


def show_caution() -> None:
    """The short caution that stands beside every margin."""
    typer.echo(CAUTION)

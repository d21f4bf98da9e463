"""Ready plans to begin with, as they lie in the package."""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path

from stampreader.errors import UsageError


class Ready(StrEnum):
    """The ready plans by name."""

    TWO_LEG = "two-leg"
    THREE_LEG = "three-leg"
    LOWER = "lower"
    TWO = "2to1"
    THREE = "3to1"
    FIVE = "5to1"
    NINE = "9to1"
    HIGH_LINE = "high-line"


READY = ", ".join(Ready)


def ready_text(kind: Ready) -> str:
    """The text of a ready plan."""
    from importlib.resources import files

    return files("stampreader.rig").joinpath("ready", f"{kind}.toml").read_text("utf-8")


def show_new(kind: Ready, path: Path | None) -> int:
    """Write a ready plan to a new file, or to standard output.

    Raises:
        UsageError: the file is there already, or cannot be written.
    """
    if path is None:
        sys.stdout.write(ready_text(kind))
        return 0
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(ready_text(kind))
    except FileExistsError as error:
        raise UsageError(
            f"{path} is there already, nothing was written", remedy="Choose another name."
        ) from error
    except OSError as error:
        raise UsageError(
            f"{path} cannot be written: {error.strerror}", remedy="Choose another folder or name."
        ) from error
    sys.stderr.write(f"Wrote {path}. Put in your figures, then: stampreader rig {path}\n")
    return 0

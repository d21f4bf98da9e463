"""Files that are printed: where they may be written, and what must be installed for them."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Annotated, Any

import typer

from stampreader.cli.common import emit_json
from stampreader.errors import StampError, UsageError
from stampreader.paper import PAPERS, Paper

_OPTIONAL = {"fpdf", "jinja2", "openpyxl", "PIL", "fontTools"}

ToOption = Annotated[
    Path, typer.Option("--to", metavar="FILE", help="File to write; it must not exist yet.")
]
OverwriteOption = Annotated[
    bool, typer.Option("--overwrite", help="Write over a file that exists.")
]
PaperOption = Annotated[str, typer.Option("--paper", help="a4 or letter.")]


class CannotWrite(StampError):
    """A file cannot be written where it was asked for."""

    kind = "output"
    remedy = "Give another place with --to."


def paper_named(name: str) -> Paper:
    """The paper of this name.

    Raises:
        UsageError: there is none.
    """
    if name.lower() not in PAPERS:
        raise UsageError(f"no paper '{name}'", remedy=f"Take {' or '.join(PAPERS)}.")
    return PAPERS[name.lower()]


@contextmanager
def printing_tools() -> Iterator[None]:
    """Turn a missing library of the `report` extra into a line that says how to install it."""
    try:
        yield
    except ModuleNotFoundError as error:
        if (error.name or "").split(".")[0] not in _OPTIONAL:
            raise
        raise UsageError(
            f"printing needs {error.name}, which is not installed",
            remedy='Install it with: pip install "stampreader[report]"',
        ) from error


def refuse_taken(paths: Sequence[Path], *, overwrite: bool) -> None:
    """Stop before any work if a file exists, or its folder does not.

    Raises:
        UsageError: a file is there already.
        CannotWrite: there is no such folder.
    """
    for path in paths:
        if path.is_dir():
            raise CannotWrite(f"{path} is a folder")
        if path.exists() and not overwrite:
            raise UsageError(f"{path} exists already", remedy="Give another name, or --overwrite.")
        if not path.parent.is_dir():
            raise CannotWrite(f"there is no folder {path.parent}")


def write_file(path: Path, data: bytes | Iterable[bytes]) -> None:
    """Write a file whole or not at all; large ones in pieces.

    Raises:
        CannotWrite: no permission, disk full, or the like.
    """
    name = None
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        with os.fdopen(handle, "wb") as file:
            file.writelines([data] if isinstance(data, bytes) else data)
        os.chmod(name, 0o666 & ~_umask())
        os.replace(name, path)
    except OSError as error:
        raise CannotWrite(f"cannot write {path}: {error.strerror or error}") from error
    finally:
        if name is not None:
            with suppress(OSError):
                os.unlink(name)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def tell_written(path: Path, *, as_json: bool, **facts: Any) -> None:
    """Say which file was written and what is in it."""
    if as_json:
        emit_json([{"file": str(path), **facts}])
        return
    said = ", ".join(
        f"{value} {name.removesuffix('s') if value == 1 else name}"
        for name, value in facts.items()
        if isinstance(value, int)
    )
    typer.echo(f"{path}: {said}" if said else str(path))

"""A copy of the register in one file, made while it is in use and read back before it counts."""

from __future__ import annotations

import os
import sqlite3
import tempfile
from collections.abc import Callable
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path

from stampreader.errors import RegisterError, UsageError
from stampreader.register.check import check_register
from stampreader.register.faults import explained
from stampreader.register.store import Register, open_register

Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Backup:
    """A copy that was read back and found whole.

    Attributes:
        path: where it lies.
        connectors, events, pictures: how many are in it.
        size_bytes: of the file.
        last: id and hash of the last event of each station in it.
    """

    path: Path
    connectors: int
    events: int
    pictures: int
    size_bytes: int
    last: tuple[tuple[str, str], ...]


def back_up(
    register: Register, path: Path, *, overwrite: bool = False, progress: Progress | None = None
) -> Backup:
    """Copy the register into one file and read the copy back.

    The copy is made beside its place and takes it only when it was found whole, so an older
    backup of that name is never lost for a broken one.

    Args:
        register: the register; others may go on writing.
        path: the file to write.
        overwrite: put it in the place of an older backup.
        progress: told what is being done.

    Raises:
        UsageError: the file exists, or is the register itself.
        RegisterError: it cannot be written, the disk is full, or the copy is not whole.
    """
    tell = progress or (lambda message: None)
    _refuse_place(register, path, overwrite)
    made = _empty_file(path)
    try:
        tell("copying")
        with explained(path):
            _copy(register, made)
        tell("reading the copy back")
        backup = _read_back(register, made, path)
        made.chmod(register.path.stat().st_mode & 0o777)
        _settle(made, path)
    except OSError as error:
        raise RegisterError(f"{path} cannot be written ({error.strerror})") from error
    finally:
        with suppress(OSError):
            made.unlink(missing_ok=True)
    return backup


def _refuse_place(register: Register, path: Path, overwrite: bool) -> None:
    if path.is_dir():
        raise UsageError(f"{path} is a folder", remedy="Give the name of a file in it.")
    if path.exists():
        if path.samefile(register.path):
            raise UsageError(f"{path} is the register itself", remedy="Give another file.")
        if not overwrite:
            raise UsageError(f"{path} exists already", remedy="Give another name, or --overwrite.")
    elif not path.parent.is_dir():
        raise UsageError(f"there is no folder {path.parent}", remedy="Make it, or give another.")


def _empty_file(path: Path) -> Path:
    """A new file beside the place; the copy grows in it."""
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    except OSError as error:
        raise RegisterError(
            f"{path} cannot be written ({error.strerror})",
            remedy="Give a folder you may write to.",
        ) from error
    os.close(handle)
    return Path(name)


def _copy(register: Register, made: Path) -> None:
    with closing(sqlite3.connect(made)) as target:
        register.db.conn.backup(target)
        # one plain file, without side files, that can be read from any disk
        target.execute("PRAGMA journal_mode = DELETE")


def _read_back(register: Register, made: Path, path: Path) -> Backup:
    with open_register(made, read_only=True) as copy:
        fault = next(check_register(copy), None)
        if fault is not None:
            raise RegisterError(
                f"the copy is not whole: {fault}",
                remedy="Run `stampreader check` on the register; no backup was kept.",
            )
        last = _last(copy)
        for event, digest in last:
            if not _has(register, event, digest):
                raise RegisterError(
                    f"the copy differs from the register at event {event}",
                    remedy="Nothing was kept; run the command again.",
                )
        connectors, events, pictures = (
            int(copy.rows(f"SELECT count(*) AS n FROM {table}")[0]["n"])
            for table in ("connectors", "events", "crops")
        )
    return Backup(path, connectors, events, pictures, made.stat().st_size, last)


def _last(register: Register) -> tuple[tuple[str, str], ...]:
    """Id and hash of each station's last event: they pin everything before them."""
    rows = register.rows(
        "SELECT station, max(number) AS number, hash FROM events GROUP BY station ORDER BY station"
    )
    return tuple((f"{row['station']}-{row['number']}", str(row["hash"])) for row in rows)


def _has(register: Register, event: str, digest: str) -> bool:
    station, _, number = event.rpartition("-")
    return bool(
        register.rows(
            "SELECT 1 FROM events WHERE station = ? AND number = ? AND hash = ?",
            [station, int(number), digest],
        )
    )


def _settle(made: Path, path: Path) -> None:
    """Flush the copy to the disk, then let it take its place."""
    with made.open("rb+") as file:
        os.fsync(file.fileno())
    os.replace(made, path)
    if hasattr(os, "O_DIRECTORY"):
        folder = os.open(path.parent, os.O_DIRECTORY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)

"""What SQLite and the disk complain of, in plain words with what to do next."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from stampreader.errors import RegisterError


class RegisterBusy(RegisterError):
    """Another process is writing and did not finish in time."""

    kind = "register-busy"
    remedy = "Wait until the other stampreader is done, then run the command again."


class NotARegister(RegisterError):
    """The file is something else; it was left alone."""

    kind = "not-a-register"
    remedy = "Give the register's file with --register."


class NewerRegister(RegisterError):
    """The register was written by a newer program."""

    kind = "newer-register"
    remedy = "Update stampreader; the register was left alone."


class NoRegister(RegisterError):
    """There is no register at this place yet."""

    kind = "no-register"
    remedy = "Give its place with --register, or begin one with `stampreader intake` or `add`."


_WORDS: dict[int, tuple[str, str]] = {
    sqlite3.SQLITE_FULL: (
        "the disk of {path} is full; what was stored before is safe",
        "Free some space and run the command again.",
    ),
    sqlite3.SQLITE_READONLY: (
        "{path} cannot be written",
        "Give yourself write permission on the file and its folder.",
    ),
    sqlite3.SQLITE_CANTOPEN: (
        "{path} cannot be opened",
        "Check that its folder exists and that you may read and write there.",
    ),
    sqlite3.SQLITE_PERM: (
        "{path} may not be opened",
        "Give yourself permission on the file and its folder.",
    ),
    sqlite3.SQLITE_CORRUPT: (
        "{path} is damaged",
        "Keep the damaged file and go on with the latest backup.",
    ),
    sqlite3.SQLITE_IOERR: (
        "the disk of {path} failed to read or write; what was stored before is kept",
        "Check the disk and its free space, then run the command again.",
    ),
    sqlite3.SQLITE_CONSTRAINT: (
        "{path} refused the change",
        "Nothing was stored; run `stampreader check`.",
    ),
}


def explain(error: sqlite3.Error, path: Path) -> RegisterError:
    """The error in words for a person."""
    code = getattr(error, "sqlite_errorcode", None)
    base = code & 0xFF if isinstance(code, int) else None
    if base in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return RegisterBusy(f"{path} is being written by another process")
    if base == sqlite3.SQLITE_NOTADB:
        return NotARegister(f"{path} is not a register")
    if base in _WORDS:
        message, remedy = _WORDS[base]
        detail = f" ({error})" if base == sqlite3.SQLITE_CONSTRAINT else ""
        return RegisterError(message.format(path=path) + detail, remedy=remedy)
    return RegisterError(f"{path}: {error}")


@contextmanager
def explained(path: Path) -> Iterator[None]:
    """Turn SQLite's errors inside the block into ours."""
    try:
        yield
    except sqlite3.Error as error:
        raise explain(error, path) from error

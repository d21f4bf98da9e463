"""Opening the register's file: what it is, whose it is, and bringing it up to date."""

from __future__ import annotations

import hashlib
import os
import platform
import secrets
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from urllib.parse import quote

from sqlite_utils import Database

from stampreader.errors import RegisterError
from stampreader.register.faults import NewerRegister, NoRegister, NotARegister, explained
from stampreader.register.migrations import APPLICATION_ID, MIGRATIONS, names

_ALPHABET = "abcdefghjkmnpqrstuvwxyz23456789"


def open_file(
    path: Path,
    *,
    create: bool,
    read_only: bool,
    wait_s: float,
    progress: Callable[[str], None] | None,
) -> tuple[Database, bool]:
    """Open the file and bring it up to date; gives the database and whether it can be written."""
    _prepare_place(path, create=create and not read_only)
    writable = not read_only and os.access(path.parent, os.W_OK)
    if path.exists():
        writable = writable and os.access(path, os.W_OK)
    with explained(path):
        conn = _connect(path, writable, wait_s)
        try:
            _refuse_foreign(conn, path)
            if writable:
                conn.execute("PRAGMA journal_mode = WAL")
            if _pending(conn):
                _bring_up_to_date(conn, path, writable, progress)
            db = _database(conn)
        except BaseException:
            conn.close()
            raise
    return db, writable


def _prepare_place(path: Path, *, create: bool) -> None:
    if path.is_dir():
        raise NotARegister(f"{path} is a folder, not a register")
    if path.exists():
        if not os.access(path, os.R_OK):
            raise RegisterError(
                f"{path} may not be read", remedy="Give yourself permission on the file."
            )
        if path.stat().st_size or create:
            return
    if not create:
        raise NoRegister(f"there is no register at {path}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise RegisterError(
            f"the folder {path.parent} cannot be made ({error.strerror})",
            remedy="Give another place with --register.",
        ) from error


def _connect(path: Path, writable: bool, wait_s: float) -> sqlite3.Connection:
    place = "file:" + quote(str(path.resolve()))
    if writable:
        conn = _plain_connection(place + "?mode=rwc", wait_s)
    else:
        conn = _read_only_connection(path, place, wait_s)
    for pragma in (
        "synchronous = FULL",
        "fullfsync = ON",
        "checkpoint_fullfsync = ON",
        "foreign_keys = ON",
        "recursive_triggers = ON",
        "trusted_schema = OFF",
        "cell_size_check = ON",
    ):
        conn.execute(f"PRAGMA {pragma}")
    return conn


def _plain_connection(uri: str, wait_s: float) -> sqlite3.Connection:
    return sqlite3.connect(uri, uri=True, timeout=wait_s, isolation_level=None)


def _read_only_connection(path: Path, place: str, wait_s: float) -> sqlite3.Connection:
    """A connection that never writes, even where the folder allows no side files."""
    conn = _plain_connection(place + "?mode=ro", wait_s)
    try:
        conn.execute("SELECT count(*) FROM sqlite_schema").fetchone()
        return conn
    except sqlite3.OperationalError:
        conn.close()
        wal = path.with_name(path.name + "-wal")
        if wal.exists() and wal.stat().st_size:
            raise
        return _plain_connection(place + "?mode=ro&immutable=1", wait_s)


def _refuse_foreign(conn: sqlite3.Connection, path: Path) -> None:
    application = conn.execute("PRAGMA application_id").fetchone()[0]
    tables = conn.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
    if application == APPLICATION_ID or (application == 0 and tables == 0):
        return
    raise NotARegister(f"{path} is an SQLite file of another program, not a register")


def _database(conn: sqlite3.Connection) -> Database:
    return Database(conn, execute_plugins=False)


def applied(conn: sqlite3.Connection) -> list[str]:
    """Names of the steps the file has taken, oldest first."""
    return [step.name for step in MIGRATIONS.applied(_database(conn))]


def _pending(conn: sqlite3.Connection) -> list[str]:
    taken = applied(conn)
    unknown = [name for name in taken if name not in names()]
    if unknown:
        raise NewerRegister(
            f"the register was written by a newer stampreader (it has {unknown[0]})"
        )
    return [name for name in names() if name not in taken]


def _bring_up_to_date(
    conn: sqlite3.Connection,
    path: Path,
    writable: bool,
    progress: Callable[[str], None] | None,
) -> None:
    """Take the missing steps in one transaction; another process doing the same is waited for."""
    tell = progress or (lambda message: None)
    if not writable:
        raise RegisterError(
            f"{path} is of an older form and cannot be written to bring it up to date",
            remedy="Open it once with write permission.",
        )
    if applied(conn):
        copy = back_up_before(conn, path)
        tell(f"kept a copy of the register as {copy} before bringing it up to date")
    conn.execute("BEGIN IMMEDIATE")
    try:
        for name in _pending(conn):
            tell(f"bringing the register up to date: {name}")
        MIGRATIONS.apply(_database(conn))
        conn.execute("COMMIT")
    except BaseException:
        if conn.in_transaction:
            conn.execute("ROLLBACK")
        raise


def back_up_before(conn: sqlite3.Connection, path: Path) -> Path:
    """Copy the register beside itself before it is brought up to date; never over another file."""
    taken = len(applied(conn))
    copy = path.with_name(f"{path.stem}.before-step-{taken + 1}{path.suffix}")
    counter = 1
    while copy.exists():
        counter += 1
        copy = path.with_name(f"{path.stem}.before-step-{taken + 1}-{counter}{path.suffix}")
    made = copy.with_name(copy.name + ".part")
    try:
        with closing(sqlite3.connect(made)) as target:
            conn.backup(target)
            found = target.execute("PRAGMA quick_check").fetchone()[0]
        if found != "ok":
            raise RegisterError(
                f"no whole copy of {path} could be made before bringing it up to date ({found})",
                remedy="The register was left as it was; run `stampreader check`.",
            )
        os.replace(made, copy)
    finally:
        made.unlink(missing_ok=True)
    return copy


def station_for_writing(conn: sqlite3.Connection, path: Path, at: str) -> str:
    """The station new events belong to; a copied or moved file begins a new one.

    Two copies of a file that both went on under one name could not be merged, so the name is tied
    to the machine and to the file's identity on its disk.
    """
    bound_to = _binding(path)
    row = conn.execute(
        "SELECT station FROM stations WHERE bound_to = ? ORDER BY since DESC LIMIT 1", [bound_to]
    ).fetchone()
    if row is not None:
        return str(row[0])
    station = "".join(secrets.choice(_ALPHABET) for _ in range(8))
    conn.execute("INSERT INTO stations VALUES (?, ?, ?)", [station, bound_to, at])
    return station


def _binding(path: Path) -> str:
    status = path.stat()
    text = f"{platform.node()}|{status.st_dev}|{status.st_ino}"
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:16]

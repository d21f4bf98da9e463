"""The register's file: opening it safely, transactions, recording events.

The only place that holds a SQLite connection. Every write is one immediate transaction, flushed to
the disk before it returns; so what a person was told is stored stays stored.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from sqlite_utils import Database

from stampreader.errors import RefusedStep, RegisterError
from stampreader.register import opening
from stampreader.register.conflicts import heads
from stampreader.register.deriving import Connector, derive
from stampreader.register.events import (
    WITHOUT_CONNECTOR,
    Body,
    Event,
    Kind,
    canonical,
    next_turn,
    sealed,
    stamp_time,
)
from stampreader.register.faults import explained
from stampreader.register.projection import project
from stampreader.register.steps import refusal

Row = Mapping[str, Any]


class Register:
    """An open register. Use `open_register`; close it, or use it in a `with` statement.

    Attributes:
        path: the file.
        db: the sqlite-utils database.
        writable: whether events can be recorded.
    """

    def __init__(self, path: Path, db: Database, *, writable: bool) -> None:
        self.path = path
        self.db = db
        self.writable = writable

    def __enter__(self) -> Self:
        """The register itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close the file."""
        self.close()

    def close(self) -> None:
        """Close the file; anything not committed is undone."""
        self.db.close()

    # -- reading -----------------------------------------------------------------------------

    def rows(self, sql: str, parameters: Sequence[Any] | Row = ()) -> list[Row]:
        """All rows of a question to the register, each as a table of columns."""
        with explained(self.path):
            cursor = self.db.conn.execute(sql, parameters)
            names = [column[0] for column in cursor.description or ()]
            return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]

    def history(self, uid: str) -> list[Event]:
        """All events of one connector in their common order."""
        return [
            event_of(row)
            for row in self.rows(
                "SELECT * FROM events WHERE connector = ? ORDER BY turn, station, number", [uid]
            )
        ]

    @contextmanager
    def snapshot(self) -> Iterator[None]:
        """Everything read inside is of one moment, whatever others write meanwhile."""
        conn = self.db.conn
        if conn.in_transaction:
            yield
            return
        with explained(self.path):
            conn.execute("BEGIN")
        try:
            yield
        finally:
            if conn.in_transaction:
                conn.execute("ROLLBACK")

    # -- writing -----------------------------------------------------------------------------

    @contextmanager
    def writing(self) -> Iterator[None]:
        """One transaction: everything inside is stored together and flushed, or nothing is.

        May be nested; the outermost one stores.

        Raises:
            RegisterError: the file is locked by another process, read-only, or the disk is full.
        """
        if not self.writable:
            raise RegisterError(
                f"{self.path} is opened for reading only",
                remedy="Give it write permission, or copy it to a disk that can be written.",
            )
        conn = self.db.conn
        if conn.in_transaction:
            yield
            return
        with explained(self.path):
            conn.execute("BEGIN IMMEDIATE")
            try:
                yield
                conn.execute("COMMIT")
            except BaseException:
                if conn.in_transaction:
                    conn.execute("ROLLBACK")
                raise

    def record(
        self,
        kind: Kind,
        connector: str | None,
        body: Body,
        *,
        who: str,
        at: datetime,
        happened_on: str | None = None,
    ) -> Event:
        """Append one event and bring the connector's present state up to date.

        Args:
            kind: what happened.
            connector: key (`uid`) of the connector; `None` for a new one or where none is meant.
            body: what belongs to the kind.
            who: the person's name.
            at: the present time.
            happened_on: the day it happened if not today, `YYYY-MM-DD`; never in the future.

        Raises:
            RefusedStep: the connector's state does not allow it, or the day lies in the future.
        """
        with self.writing():
            known = self.history(connector) if connector is not None else []
            day = _day_of(kind, happened_on, at, known)
            if connector is not None:
                _refuse_illegal(derive(known), kind)
            event = self._append(kind, connector, heads(known), body, who, at, day)
            if event.connector is not None:
                project(self.db.conn, derive([*known, event]))
            return event

    def _append(
        self,
        kind: Kind,
        connector: str | None,
        after: tuple[str, ...],
        body: Body,
        who: str,
        at: datetime,
        day: str,
    ) -> Event:
        station = opening.station_for_writing(self.db.conn, self.path, stamp_time(at))
        last = self.rows(
            "SELECT number, hash FROM events WHERE station = ? ORDER BY number DESC LIMIT 1",
            [station],
        )
        number, previous = (last[0]["number"] + 1, last[0]["hash"]) if last else (1, "")
        latest = self.rows("SELECT max(turn) AS turn FROM events")[0]["turn"]
        if connector is None and kind not in WITHOUT_CONNECTOR:
            connector = f"{station}-{number}"
        moment = stamp_time(at)
        event = sealed(
            Event(
                station=station,
                number=number,
                kind=kind,
                connector=connector,
                after=after,
                happened_on=day,
                at=moment,
                turn=next_turn(moment, latest),
                who=who,
                body=body,
                previous=previous,
            )
        )
        self.insert_events([event])
        return event

    def insert_events(self, events: Iterable[Event]) -> None:
        """Append finished events as they are, each continuing its station's chain.

        Used for recording and for merging; the caller brings the connectors up to date with
        `refresh`.
        """
        with self.writing():
            self.db.conn.executemany(
                "INSERT INTO events (station, number, kind, connector, after, happened_on, at,"
                " turn, who, body, previous, hash) VALUES (?,?,?,?,?,?,?,?,?,?,?,?)",
                (row_of(event) for event in events),
            )

    def refresh(self, uids: Iterable[str]) -> None:
        """Work out the present state of these connectors again from their events."""
        with self.writing():
            for uid in uids:
                project(self.db.conn, derive(self.history(uid)))

    def refresh_all(self, progress: Callable[[int], None] | None = None) -> None:
        """Work out the present state of every connector again."""
        uids = [
            str(row["connector"])
            for row in self.rows(
                "SELECT DISTINCT connector FROM events WHERE connector IS NOT NULL"
            )
        ]
        with self.writing():
            for done, uid in enumerate(uids, 1):
                self.refresh([uid])
                if progress is not None:
                    progress(done)


def open_register(
    path: Path,
    *,
    create: bool = False,
    read_only: bool = False,
    wait_s: float = 5.0,
    progress: Callable[[str], None] | None = None,
) -> Register:
    """Open a register, bringing an older one up to date after a backup.

    Args:
        path: the file.
        create: make a new register if there is none.
        read_only: never write, not even to bring it up to date.
        wait_s: how long to wait for another process that is writing.
        progress: told in a sentence what is being done to the file.

    Raises:
        RegisterError: no register there, not a register, newer than this program, locked,
            damaged, or not permitted.
    """
    db, writable = opening.open_file(
        path, create=create, read_only=read_only, wait_s=wait_s, progress=progress
    )
    return Register(path, db, writable=writable)


def _refuse_illegal(connector: Connector, kind: Kind) -> None:
    reason = refusal(connector.life, kind)
    if reason is not None:
        raise RefusedStep(f"{connector.id}: {reason}")


def _day_of(kind: Kind, given: str | None, at: datetime, known: Sequence[Event]) -> str:
    today = at.astimezone().date().isoformat()
    if given is None:
        return today
    if given > today:
        raise RefusedStep(
            f"{given} lies in the future; {kind} cannot have happened yet",
            remedy="Give the day it happened.",
        )
    return given


def row_of(event: Event) -> tuple[Any, ...]:
    """An event as the columns of table `events`."""
    return (
        event.station,
        event.number,
        str(event.kind),
        event.connector,
        " ".join(event.after),
        event.happened_on,
        event.at,
        event.turn,
        event.who,
        canonical(event.body),
        event.previous,
        event.hash,
    )


def event_of(row: Row) -> Event:
    """An event from a row of table `events`."""
    return Event(
        station=row["station"],
        number=row["number"],
        kind=Kind(row["kind"]),
        connector=row["connector"],
        after=tuple(row["after"].split()),
        happened_on=row["happened_on"],
        at=row["at"],
        turn=row["turn"],
        who=row["who"],
        body=json.loads(row["body"]),
        previous=row["previous"],
        hash=row["hash"],
    )

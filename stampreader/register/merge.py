"""Uniting the histories of stations that worked apart.

Events are united by their ids. Uniting the same twice changes nothing, and either order gives the
same events, the same present state of every connector and the same conflicts. What remains each
station's own: its settings, its list of arrivals, and the names it gave to photo files.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from stampreader.errors import ImportRefused, RegisterError
from stampreader.register.clashes import Conflict, list_conflicts
from stampreader.register.events import Event, stamp_time
from stampreader.register.faults import explained
from stampreader.register.incoming import check_event
from stampreader.register.store import Register, event_of

EVIDENCE = ("photos", "readings", "crops")
"""Tables taken over with the events, in the order their rows depend on each other."""

_AT_ONCE = 2000
Evidence = Iterable[tuple[str, Sequence[Any]]]
"""Rows of evidence: name of the table, and the row's values in the order of its columns."""


@dataclass(frozen=True, slots=True)
class Merger:
    """What a merger has brought, or would bring.

    Attributes:
        events: how many events were new here.
        stations: stations they were recorded by.
        entered: ids of connectors that were not here before.
        changed: ids of connectors that were here and have new events.
        pictures: how many evidence pictures were new.
        arrivals: how many waiting arrivals turned out to be registered already by another station.
        conflicts: everything a person must settle, known before or not.
        fresh: those of them that were not there before.
    """

    events: int
    stations: tuple[str, ...]
    entered: tuple[str, ...]
    changed: tuple[str, ...]
    pictures: int
    arrivals: int
    conflicts: tuple[Conflict, ...]
    fresh: tuple[Conflict, ...]


class _OnlyLooking(Exception):
    """Ends a rehearsal: everything inside the transaction is undone."""


def merge_registers(
    register: Register, other: Register, *, who: str, at: datetime, rehearse: bool = False
) -> Merger:
    """Take over everything another register holds that this one does not.

    Args:
        register: the register that grows.
        other: the one read; it is not changed.
        who: who merges.
        at: the present time.
        rehearse: work everything out, and store nothing.

    Raises:
        ImportRefused: the other's history is broken, or holds other events under the same numbers.
        RegisterError: the file cannot be written.
    """
    with other.snapshot():
        return unite(
            register, _events_after(other, _lengths(register)), _evidence_of(other),
            source=other.path.name, who=who, at=at, rehearse=rehearse,
        )  # fmt: skip


def unite(
    register: Register,
    events: Iterable[Event],
    evidence: Evidence,
    *,
    source: str,
    who: str,
    at: datetime,
    rehearse: bool = False,
) -> Merger:
    """Unite a register's history with events from outside, all of it or nothing.

    Args:
        register: the register that grows.
        events: by station and rising number; those known already may be among them. Each station
            begins with its first event, or with the last one that is known here.
        evidence: photos, readings and pictures, in this order; gone through after the events.
        source: where they come from, for the record.
        who: who merges.
        at: the present time.
        rehearse: work everything out, and store nothing.

    Raises:
        ImportRefused: an event is unsound, altered or missing, or the same number means another.
    """
    found: list[Merger] = []
    try:
        with register.writing():
            found.append(_take_over(register, events, evidence, source=source, who=who, at=at))
            if rehearse:
                raise _OnlyLooking
    except _OnlyLooking:
        pass
    return found[0]


def _take_over(
    register: Register, events: Iterable[Event], evidence: Evidence, *,
    source: str, who: str, at: datetime,
) -> Merger:  # fmt: skip
    before = set(list_conflicts(register))
    known = {str(r["uid"]) for r in register.rows("SELECT uid FROM connectors")}
    fresh = _Fresh()
    for batch in _batches(fresh.noting(_unknown(register, events))):
        register.insert_events(batch)
    _check_links(register, fresh)
    pictures = _insert_evidence(register, evidence)
    uids = sorted({str(uid) for _, uid, _, _ in fresh.links if uid is not None})
    _refresh(register, uids)
    arrivals = _close_arrivals(register, uids)
    _note_merger(register, fresh, source=source, who=who, at=at)
    after = list_conflicts(register)
    return Merger(
        events=len(fresh.links),
        stations=tuple(fresh.ranges),
        entered=_ids(register, [uid for uid in uids if uid not in known]),
        changed=_ids(register, [uid for uid in uids if uid in known]),
        pictures=pictures,
        arrivals=arrivals,
        conflicts=after,
        fresh=tuple(conflict for conflict in after if conflict not in before),
    )


class _Fresh:
    """What is remembered of the new events while they stream by.

    Attributes:
        links: (id, connector, ids it follows, turn) of each.
        ranges: first and last number of each station.
    """

    def __init__(self) -> None:
        self.links: list[tuple[str, str | None, tuple[str, ...], str]] = []
        self.ranges: dict[str, tuple[int, int]] = {}

    def noting(self, events: Iterable[Event]) -> Iterator[Event]:
        for event in events:
            self.links.append((event.id, event.connector, event.after, event.turn))
            first, _ = self.ranges.get(event.station, (event.number, 0))
            self.ranges[event.station] = (first, event.number)
            yield event


def _lengths(register: Register) -> dict[str, int]:
    """How many events of each station a register holds."""
    rows = register.rows("SELECT station, max(number) AS last FROM events GROUP BY station")
    return {str(row["station"]): int(row["last"]) for row in rows}


def _events_after(register: Register, known: dict[str, int]) -> Iterator[Event]:
    """Events of another register from the last known one of each station on."""
    for station, last in _lengths(register).items():
        first = min(known.get(station, 1), last)
        with explained(register.path):
            cursor = register.db.conn.execute(
                "SELECT * FROM events WHERE station = ? AND number >= ? ORDER BY number",
                [station, first],
            )
            names = [column[0] for column in cursor.description]
            for row in cursor:
                try:
                    event = event_of(dict(zip(names, row, strict=True)))
                except ValueError as error:
                    raise ImportRefused(f"event {row[0]}-{row[1]} is unsound: {error}") from error
                yield event


def _unknown(register: Register, events: Iterable[Event]) -> Iterator[Event]:
    """The events not known here; each station's chain is followed from end to end.

    Since a hash covers all events before it, comparing the last common one compares them all.
    """
    lengths = _lengths(register)
    last: Event | None = None
    for event in events:
        check_event(event)
        if last is None or last.station != event.station:
            _check_common(register, last, lengths)
            _check_start(event, lengths)
        elif event.number != last.number + 1 or event.previous != last.hash:
            raise ImportRefused(f"event {event.id} does not follow {last.id}: one is missing")
        elif event.turn <= last.turn:
            raise ImportRefused(f"event {event.id} comes before {last.id} in the common order")
        if event.number == lengths.get(event.station):
            _check_same(register, event)
        if event.number > lengths.get(event.station, 0):
            yield event
        last = event
    _check_common(register, last, lengths)


def _check_start(event: Event, lengths: dict[str, int]) -> None:
    if event.number > 1 and event.number > lengths.get(event.station, 0):
        raise ImportRefused(
            f"the events of station {event.station} before number {event.number} are missing"
        )


def _check_common(register: Register, last: Event | None, lengths: dict[str, int]) -> None:
    """Where this register knows more of a station than the other, their last common is the same."""
    if last is not None and last.number < lengths.get(last.station, 0):
        _check_same(register, last)


def _check_same(register: Register, event: Event) -> None:
    row = register.rows(
        "SELECT hash FROM events WHERE station = ? AND number = ?", [event.station, event.number]
    )[0]
    if row["hash"] != event.hash:
        raise ImportRefused(
            f"station {event.station} recorded different events under the same numbers, up to "
            f"{event.number}",
            remedy="One file went back to an older copy and went on from there; it cannot be "
            "united. Keep both files, and enter what is missing by hand.",
        )


def _batches(events: Iterable[Event]) -> Iterator[list[Event]]:
    batch: list[Event] = []
    for event in events:
        batch.append(event)
        if len(batch) == _AT_ONCE:
            yield batch
            batch = []
    yield batch


def _check_links(register: Register, fresh: _Fresh) -> None:
    """Each new event follows events of the same connector that come before it.

    Raises:
        ImportRefused: one of them is missing, of another connector, or comes later.
    """
    known = {id: (uid, turn) for id, uid, _, turn in fresh.links}
    for id, uid, after, turn in fresh.links:
        for parent in after:
            found = known.get(parent) or _placed(register, parent)
            if found is None:
                raise ImportRefused(f"event {id} follows {parent}, which is missing")
            if found[0] != uid or found[1] >= turn:
                raise ImportRefused(f"event {id} cannot follow {parent}")


def _placed(register: Register, id: str) -> tuple[str | None, str] | None:
    """Connector and turn of an event of this register."""
    station, _, number = id.rpartition("-")
    rows = register.rows(
        "SELECT connector, turn FROM events WHERE station = ? AND number = ?",
        [station, int(number)],
    )
    return (rows[0]["connector"], rows[0]["turn"]) if rows else None


def _refresh(register: Register, uids: Sequence[str]) -> None:
    """Work out the present state of connectors that have new events."""
    for uid in uids:
        try:
            register.refresh([uid])
        except (RegisterError, ArithmeticError, LookupError, TypeError, ValueError) as error:
            raise ImportRefused(
                f"the history of connector {uid} makes no sense: {error}"
            ) from error


def _evidence_of(other: Register) -> Iterator[tuple[str, Sequence[Any]]]:
    with explained(other.path):
        for table in EVIDENCE:
            for row in other.db.conn.execute(f"SELECT * FROM {table} ORDER BY rowid"):
                yield table, row


def _insert_evidence(register: Register, evidence: Evidence) -> int:
    """Store what is not here yet; gives the number of new pictures."""
    pictures = 0
    for table, row in evidence:
        if table == "crops" and hashlib.sha256(row[4]).hexdigest() != row[0]:
            raise ImportRefused(f"the evidence picture {str(row[0])[:12]} was altered")
        marks = ", ".join("?" * len(row))
        try:
            cursor = register.db.conn.execute(
                f"INSERT INTO {table} VALUES ({marks}) ON CONFLICT DO NOTHING", row
            )
        except sqlite3.IntegrityError as error:
            raise ImportRefused(f"{table}: {str(row[0])[:12]} hangs on a missing photo") from error
        pictures += cursor.rowcount if table == "crops" else 0
    return pictures


def _close_arrivals(register: Register, uids: Sequence[str]) -> int:
    """Waiting arrivals whose stamp another station registered are no longer asked about."""
    closed = 0
    for uid in uids:
        cursor = register.db.conn.execute(
            "UPDATE arrivals SET status = 'confirmed', connector = ?, decided_by = ?"
            " WHERE status = 'waiting' AND arrival IN (SELECT a.arrival FROM arrival_photos a"
            " JOIN connector_photos c ON c.photo = a.photo AND c.stamp = a.stamp"
            " JOIN connectors n ON n.uid = c.uid WHERE c.uid = ? AND n.life != 'withdrawn')",
            [uid, uid, uid],
        )
        closed += cursor.rowcount
    return closed


def _note_merger(register: Register, fresh: _Fresh, *, source: str, who: str, at: datetime) -> None:
    """Record which events came from outside, and when."""
    register.db.conn.executemany(
        "INSERT INTO mergers (station, first, last, at, who, source) VALUES (?, ?, ?, ?, ?, ?)",
        [
            (station, first, last, stamp_time(at), who, source)
            for station, (first, last) in fresh.ranges.items()
        ],
    )


def _ids(register: Register, uids: Sequence[str]) -> tuple[str, ...]:
    """Readable ids of connectors, in order."""
    found: list[str] = []
    for uid in uids:
        rows = register.rows("SELECT id FROM connectors WHERE uid = ?", [uid])
        found += [str(row["id"]) for row in rows]
    return tuple(sorted(found))

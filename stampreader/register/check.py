"""Whether the register is whole: the file, the history's chains, what is worked out from it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator
from itertools import groupby
from typing import Any

from stampreader.errors import RegisterError
from stampreader.register.deriving import derive
from stampreader.register.events import Event, hash_of
from stampreader.register.faults import explained
from stampreader.register.projection import COLUMNS, row_of, searched_marks
from stampreader.register.store import Register, event_of

MOST_NAMED = 10
"""So many connectors are named one by one; the rest are counted."""

Progress = Callable[[str], None]


def check_register(register: Register, progress: Progress | None = None) -> Iterator[str]:
    """Each fault found, in a sentence; nothing if the register is whole.

    All of it is looked at as it was at one moment; others may go on writing.

    Args:
        register: the register.
        progress: told what is being looked at.
    """
    with register.snapshot():
        for title, look in (
            ("the file", _file_faults),
            ("the history", _chain_faults),
            ("the present state", _derived_faults),
            ("the evidence", _evidence_faults),
            ("the arrivals", _arrival_faults),
            ("the settings", _setting_faults),
        ):
            if progress is not None:
                progress(title)
            yield from look(register)


def _file_faults(register: Register) -> Iterator[str]:
    try:
        for row in register.rows("PRAGMA integrity_check"):
            if row["integrity_check"] != "ok":
                yield f"the file is damaged: {row['integrity_check']}"
        for row in register.rows("PRAGMA foreign_key_check"):
            yield f"a row of {row['table']} points to a missing row of {row['parent']}"
    except RegisterError as error:
        yield f"the file is damaged: {error}"


def _events(register: Register, order: str) -> Iterator[Event]:
    with explained(register.path):
        cursor = register.db.conn.execute(f"SELECT * FROM events ORDER BY {order}")
        names = [column[0] for column in cursor.description]
        for row in cursor:
            yield event_of(dict(zip(names, row, strict=True)))


def _chain_faults(register: Register) -> Iterator[str]:
    """The first broken event of each station; everything after it cannot be trusted."""
    for station, events in groupby(
        _events(register, "station, number"), key=lambda event: event.station
    ):
        previous = ""
        for number, event in enumerate(events, 1):
            fault = _chain_fault(event, number, previous)
            if fault is not None:
                yield f"event {station}-{number}: {fault}"
                break
            previous = event.hash


def _chain_fault(event: Event, number: int, previous: str) -> str | None:
    if event.number != number:
        return "it is missing from the history"
    if event.previous != previous:
        return "it does not follow the event before it"
    if hash_of(event) != event.hash:
        return "it was altered after it was recorded"
    return None


def _derived_faults(register: Register) -> Iterator[str]:
    """Connectors whose kept row, marks or photos are not what their history says."""
    wrong = 0
    rows = {str(row["uid"]): row for row in register.rows("SELECT * FROM connectors")}
    marks = _kept(register, "SELECT uid, mark FROM connector_marks")
    photos = _kept(register, "SELECT uid, photo, stamp, crop FROM connector_photos")
    events = (e for e in _events(register, "connector, turn, station, number") if e.connector)
    for uid, own in groupby(events, key=lambda event: str(event.connector)):
        connector = derive(own)
        found, expected = rows.pop(uid, None), row_of(connector)
        same = (
            found is not None
            and all(found[name] == expected[name] for name in COLUMNS)
            and marks.pop(uid, set()) == {(mark,) for mark in searched_marks(connector.marks)}
            and photos.pop(uid, set()) == set(connector.photos)
        )
        wrong += not same
        if not same and wrong <= MOST_NAMED:
            yield f"the present state kept for {connector.id} differs from its history"
    if wrong > MOST_NAMED:
        yield f"the same for {wrong - MOST_NAMED} more"
    for uid in sorted({*rows, *marks, *photos} - {""}):
        yield f"the present state kept for {uid} has no history"


def _kept(register: Register, sql: str) -> dict[str, set[tuple[Any, ...]]]:
    """Rows kept beside a connector, by its key."""
    found: dict[str, set[tuple[Any, ...]]] = {}
    for row in register.rows(sql):
        uid, *rest = row.values()
        found.setdefault(str(uid), set()).add(tuple(rest))
    return found


def _evidence_faults(register: Register) -> Iterator[str]:
    with explained(register.path):
        for sha256, picture in register.db.conn.execute("SELECT sha256, picture FROM crops"):
            if hashlib.sha256(picture).hexdigest() != sha256:
                yield f"the evidence picture {sha256[:12]} was altered"
    for row in register.rows(
        "SELECT p.crop, c.id FROM connector_photos p JOIN connectors c ON c.uid = p.uid"
        " WHERE p.crop != '' AND p.crop NOT IN (SELECT sha256 FROM crops)"
    ):
        yield f"the evidence picture {row['crop'][:12]} of {row['id']} is missing"


def _arrival_faults(register: Register) -> Iterator[str]:
    for row in register.rows(
        "SELECT a.arrival FROM arrivals a LEFT JOIN connectors c ON c.uid = a.connector"
        " WHERE a.status = 'confirmed' AND c.uid IS NULL"
    ):
        yield f"arrival {row['arrival']} is confirmed but its connector is missing"
    for row in register.rows(
        "SELECT p.photo, p.stamp, count(*) AS n FROM connector_photos p"
        " JOIN connectors c ON c.uid = p.uid WHERE c.life != 'withdrawn'"
        " GROUP BY p.photo, p.stamp HAVING n > 1"
    ):
        yield (
            f"{row['n']} connectors were entered from stamp {row['stamp']} of photo "
            + (str(row["photo"])[:12])
        )


def _setting_faults(register: Register) -> Iterator[str]:
    latest: dict[str, str] = {}
    for row in register.rows(
        "SELECT body FROM events e WHERE kind = 'setting'"
        " AND station IN (SELECT station FROM stations)"
        " AND NOT EXISTS (SELECT 1 FROM mergers m WHERE m.station = e.station"
        " AND e.number BETWEEN m.first AND m.last) ORDER BY turn, station, number"
    ):
        body = json.loads(row["body"])
        latest[body["name"]] = body["value"]
    stored = {str(r["name"]): str(r["value"]) for r in register.rows("SELECT * FROM settings")}
    for name in sorted(set(stored) | set(latest)):
        if stored.get(name) != latest.get(name):
            yield f"the setting {name} differs from its history"

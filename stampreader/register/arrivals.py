"""Arrivals: connectors that were read and wait for a person, and what the person decided."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Any

from stampreader.errors import RefusedStep
from stampreader.register.connectors import id_is_taken, new_ids
from stampreader.register.entries import clean_fields, on_one_line
from stampreader.register.events import Event, Kind, stamp_time
from stampreader.register.raw import raw_for_history, reading_from_json
from stampreader.register.settings import read_settings
from stampreader.register.store import Register, Row
from stampreader.words import Arrival, Sighting, Stamp

BLANK = Stamp()


def in_words(ids: Sequence[str]) -> str:
    """Ids in words: all of a few, first and last of many."""
    if len(ids) <= 4:
        return ", ".join(ids)
    return f"{ids[0]} to {ids[-1]} ({len(ids)})"


@dataclass(frozen=True, slots=True)
class Undone:
    """What an undo brought back.

    Attributes:
        arrivals: keys of the arrivals that wait again.
        ids: ids of the entries that were withdrawn.
    """

    arrivals: tuple[int, ...]
    ids: tuple[str, ...]

    @property
    def words(self) -> str:
        """In words, such as `C-0001 to C-0039 (39)`."""
        if not self.ids:
            return f"{len(self.arrivals)} set aside"
        return in_words(self.ids)


def add_arrival(
    register: Register,
    delivery: str,
    seen: Sequence[Sighting],
    *,
    at: datetime,
    label: str | None = None,
    notes: Sequence[str] = (),
) -> int:
    """Put a connector on the list of those waiting; gives its key.

    Each stamp of a photo belongs to one arrival only; the readings must be stored before.
    """
    with register.writing():
        cursor = register.db.conn.execute(
            "INSERT INTO arrivals (delivery, label, notes, status, since)"
            " VALUES (?, ?, ?, 'waiting', ?)",
            [delivery, label, json.dumps(list(notes), ensure_ascii=False), stamp_time(at)],
        )
        key = int(cursor.lastrowid or 0)
        _insert_photos(register, key, seen)
    return key


def add_photos(register: Register, arrival: int, seen: Sequence[Sighting]) -> None:
    """Add more photos of a connector that waits already.

    Raises:
        RefusedStep: it was decided meanwhile.
    """
    with register.writing():
        _refuse_decided(register, arrival)
        _insert_photos(register, arrival, seen)


def _insert_photos(register: Register, arrival: int, seen: Sequence[Sighting]) -> None:
    register.db.conn.executemany(
        "INSERT INTO arrival_photos (photo, stamp, readers, arrival, crop, path)"
        " VALUES (?, ?, ?, ?, ?, ?)",
        [(s.photo, s.number, s.readers, arrival, s.crop, s.path) for s in seen],
    )


def waiting_with_label(register: Register, label: str) -> int | None:
    """Key of the waiting arrival that has this label, or `None`."""
    rows = register.rows(
        "SELECT arrival FROM arrivals WHERE status = 'waiting' AND label = ? COLLATE NOCASE",
        [label],
    )
    return int(rows[0]["arrival"]) if rows else None


def waiting(
    register: Register, delivery: str | None = None, keys: Iterable[int] | None = None
) -> list[Arrival]:
    """Arrivals that wait for a person, in the order they came.

    Args:
        register: the register.
        delivery: only of this delivery.
        keys: only these.
    """
    sql = (
        "SELECT a.arrival, a.delivery, a.label, a.notes, p.photo, p.stamp, p.readers, p.crop,"
        " p.path, r.body FROM arrivals a JOIN arrival_photos p ON p.arrival = a.arrival"
        " JOIN readings r ON r.photo = p.photo AND r.readers = p.readers"
        " WHERE a.status = 'waiting'"
    )
    values: list[Any] = []
    if delivery is not None:
        sql += " AND a.delivery = ?"
        values.append(delivery)
    rows = register.rows(sql + " ORDER BY a.arrival, p.rowid", values)
    wanted = None if keys is None else set(keys)
    return [
        _arrival_of(list(photos))
        for key, photos in groupby(rows, key=lambda row: row["arrival"])
        if wanted is None or key in wanted
    ]


def _arrival_of(rows: Sequence[Row]) -> Arrival:
    return Arrival(
        key=rows[0]["arrival"],
        delivery=rows[0]["delivery"],
        label=rows[0]["label"],
        seen=tuple(_sighting_of(row) for row in rows),
        notes=tuple(json.loads(rows[0]["notes"])),
    )


def _sighting_of(row: Row) -> Sighting:
    stamps = reading_from_json(json.loads(row["body"])).stamps
    number = row["stamp"]
    return Sighting(
        photo=row["photo"],
        number=number,
        stamp=stamps[number] if number < len(stamps) else BLANK,
        readers=row["readers"],
        crop=row["crop"],
        path=row["path"],
    )


def arrival_of_photo(register: Register, sha256: str) -> list[Row]:
    """Arrivals this photo already belongs to: stamp, arrival, status, delivery, connector."""
    return register.rows(
        "SELECT p.stamp, a.arrival, a.status, a.delivery, a.connector FROM arrival_photos p"
        " JOIN arrivals a ON a.arrival = p.arrival WHERE p.photo = ? ORDER BY p.stamp",
        [sha256],
    )


def confirm_arrivals(
    register: Register,
    confirmed: Sequence[tuple[Arrival, Mapping[str, Any]]],
    *,
    who: str,
    at: datetime,
) -> list[Event]:
    """Enter arrivals into the register as a person confirmed them: all of them, or none.

    Args:
        register: the register.
        confirmed: each arrival with the confirmed fields (`closed_kN`, `marks`, `maker`, …). An
            `id` may be among them; else the label's is taken, else the next free one.
        who: who confirmed.
        at: the present time.

    Raises:
        RefusedStep: an arrival was decided meanwhile, or an id is taken.
        UsageError: a value a field cannot have.
    """
    events: list[Event] = []
    with register.writing():
        free = new_ids(register, read_settings(register).id_prefix)
        for arrival, fields in confirmed:
            _refuse_decided(register, arrival.key)
            id = str(fields.get("id") or arrival.label or next(free))
            if id_is_taken(register, id):
                raise RefusedStep(
                    f"the id {id} is taken by another connector", remedy="Give another id."
                )
            event = register.record(
                Kind.REGISTERED, None, _body(arrival, {**fields, "id": id}, at), who=who, at=at
            )
            events.append(event)
            _decide(register, arrival.key, "confirmed", event, events[0])
    return events


def _body(arrival: Arrival, fields: Mapping[str, Any], at: datetime) -> dict[str, Any]:
    cleaned = clean_fields({"delivery": arrival.delivery, **fields}, at=at)
    return {
        "fields": {k: v for k, v in cleaned.items() if v not in ("", None, [])},
        "read": [
            {
                "photo": s.photo,
                "stamp": s.number,
                "readers": s.readers,
                "crop": s.crop,
                "raw": raw_for_history(s.stamp),
            }
            for s in arrival.seen
        ],
    }


def _refuse_decided(register: Register, key: int) -> None:
    rows = register.rows("SELECT status FROM arrivals WHERE arrival = ?", [key])
    if not rows or rows[0]["status"] != "waiting":
        raise RefusedStep(
            f"arrival {key} was decided meanwhile, in another window or by another person",
            remedy="Nothing was entered twice; go on with the next.",
        )


def _decide(register: Register, key: int, status: str, event: Event, first: Event) -> None:
    register.db.conn.execute(
        "UPDATE arrivals SET status = ?, connector = ?, decided_by = ?, decided_turn = ?"
        " WHERE arrival = ?",
        [status, event.connector, first.id, first.turn, key],
    )


def set_aside(
    register: Register, arrivals: Sequence[Arrival], *, reason: str, who: str, at: datetime
) -> Event:
    """Take arrivals off the list without entering them: not a connector, or the same one twice."""
    with register.writing():
        for arrival in arrivals:
            _refuse_decided(register, arrival.key)
        photos = [[s.photo, s.number] for arrival in arrivals for s in arrival.seen]
        event = register.record(
            Kind.SET_ASIDE, None, {"photos": photos, "reason": on_one_line(reason)}, who=who, at=at
        )
        for arrival in arrivals:
            _decide(register, arrival.key, "set-aside", event, event)
    return event


def undo_last(
    register: Register, delivery: str | None = None, *, who: str, at: datetime
) -> Undone | None:
    """Take back the latest decision about arrivals: entries are withdrawn, arrivals wait again.

    Args:
        register: the register.
        delivery: only look at this delivery.
        who: who undoes.
        at: the present time.

    Returns:
        What was brought back; `None` if there is no decision to undo.

    Raises:
        RefusedStep: something has been recorded of one of the connectors since.
    """
    with register.writing():
        rows = _latest_decision(register, delivery)
        if not rows:
            return None
        ids = [str(row["id"]) for row in rows if row["connector"]]
        for row in rows:
            if row["connector"]:
                _withdraw(register, row, who=who, at=at)
        if not ids:
            register.record(
                Kind.BROUGHT_BACK, None, {"decision": rows[0]["decided_by"]}, who=who, at=at
            )
        keys = tuple(int(row["arrival"]) for row in rows)
        register.db.conn.executemany(
            "UPDATE arrivals SET status = 'waiting', connector = NULL, decided_by = NULL,"
            " decided_turn = NULL WHERE arrival = ?",
            [(key,) for key in keys],
        )
    return Undone(keys, tuple(ids))


def _latest_decision(register: Register, delivery: str | None) -> list[Row]:
    last = register.rows(
        "SELECT decided_by, decided_turn FROM arrivals WHERE decided_turn IS NOT NULL"
        " AND (? IS NULL OR delivery = ?) ORDER BY decided_turn DESC LIMIT 1",
        [delivery, delivery],
    )
    if not last:
        return []
    return register.rows(
        "SELECT a.*, c.id FROM arrivals a LEFT JOIN connectors c ON c.uid = a.connector"
        " WHERE a.decided_turn = ? AND a.decided_by = ? ORDER BY a.arrival",
        [last[0]["decided_turn"], last[0]["decided_by"]],
    )


def _withdraw(register: Register, row: Row, *, who: str, at: datetime) -> None:
    if len(register.history(row["connector"])) > 1:
        raise RefusedStep(
            f"{row['id']} has more in its history by now and cannot be undone",
            remedy="Correct it with `stampreader correct`, or retire it.",
        )
    register.record(
        Kind.WITHDRAWN, row["connector"], {"reason": "confirmation undone"}, who=who, at=at
    )

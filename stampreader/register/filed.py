"""What a report needs besides connectors: the last entry, names of photos, what was set aside."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from stampreader.register.events import Event, Kind
from stampreader.register.evidence import Crop, read_crop
from stampreader.register.store import Register, event_of


def last_event(register: Register) -> Event | None:
    """The last event in the common order; its hash pins those of its station before it."""
    rows = register.rows(
        "SELECT * FROM events ORDER BY turn DESC, station DESC, number DESC LIMIT 1"
    )
    return event_of(rows[0]) if rows else None


def photo_name(register: Register, sha256: str) -> tuple[str, str]:
    """File name of a photo and when it was taken; empty texts where not known."""
    rows = register.rows("SELECT name, taken_on FROM photos WHERE sha256 = ?", [sha256])
    return (str(rows[0]["name"]), str(rows[0]["taken_on"] or "")) if rows else ("", "")


def set_aside_of(register: Register, delivery: str) -> list[str]:
    """Photos of arrivals of a delivery that were set aside instead of entered, one each."""
    rows = register.rows(
        "SELECT min(p.path) AS path FROM arrivals a JOIN arrival_photos p ON p.arrival = a.arrival"
        " WHERE a.status = 'set-aside' AND a.delivery = ? GROUP BY a.arrival ORDER BY a.arrival",
        [delivery],
    )
    return [str(row["path"]) for row in rows]


def events_on(register: Register, kind: Kind, day: date) -> list[Event]:
    """Events of a kind that happened on a day, in the common order."""
    rows = register.rows(
        "SELECT * FROM events WHERE kind = ? AND happened_on = ? ORDER BY turn, station, number",
        [str(kind), day.isoformat()],
    )
    return [event_of(row) for row in rows]


def first_crop(register: Register, photos: Sequence[tuple[str, int, str]]) -> Crop | None:
    """The first evidence picture among a connector's photos, if one is kept."""
    for _, _, crop in photos:
        if crop:
            return read_crop(register, crop)
    return None

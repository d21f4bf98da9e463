"""Events: the entries of the append-only history, their canonical text and their hash chain.

Every event belongs to the station that recorded it and carries that station's running number and
the hash of that station's event before it. Histories of two stations therefore unite in any order,
and an edit behind the program's back breaks a chain.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from typing import Any

Body = Mapping[str, Any]


class Kind(StrEnum):
    """What an event says has happened."""

    REGISTERED = "registered"
    CORRECTED = "corrected"
    PUT_IN_SERVICE = "put-in-service"
    MOVED = "moved"
    INSPECTED = "inspected"
    QUARANTINED = "quarantined"
    RELEASED = "released"
    RETIRED = "retired"
    LOST = "lost"
    FOUND = "found"
    WITHDRAWN = "withdrawn"
    SETTLED = "settled"
    SET_ASIDE = "set-aside"
    BROUGHT_BACK = "brought-back"
    ORDERED = "ordered"
    SETTING = "setting"


WITHOUT_CONNECTOR = frozenset({Kind.SET_ASIDE, Kind.BROUGHT_BACK, Kind.ORDERED, Kind.SETTING})
"""Kinds that speak of no connector: decisions about photos, orders and settings."""


@dataclass(frozen=True, slots=True)
class Event:
    """One entry of the history.

    Attributes:
        station: who recorded it: the short random name of a register file on one machine.
        number: the station's running number, from 1 without gaps.
        kind: what happened.
        connector: key of the connector (id of its `registered` event), `None` where none is meant.
        after: ids of the connector's latest events known when this one was recorded; more than
            one where stations had worked apart.
        happened_on: the day it happened, `YYYY-MM-DD`; may lie before the recording.
        at: when it was recorded, UTC by the station's clock.
        turn: place in the common order: `at`, but never before an event already known.
        who: name of the person.
        body: what belongs to the kind; strings, whole numbers, true/false, lists and tables only.
        previous: hash of the station's event before, empty for its first.
        hash: SHA-256 over the canonical text of everything above, hex.
    """

    station: str
    number: int
    kind: Kind
    connector: str | None
    after: tuple[str, ...]
    happened_on: str
    at: str
    turn: str
    who: str
    body: Body
    previous: str
    hash: str = ""

    @property
    def id(self) -> str:
        """Globally unique name of the event."""
        return f"{self.station}-{self.number}"

    @property
    def order(self) -> tuple[str, str, int]:
        """Place in the common order, the same in every register that holds the event."""
        return (self.turn, self.station, self.number)

    def content(self) -> dict[str, Any]:
        """Everything the hash covers."""
        return {
            "station": self.station,
            "number": self.number,
            "kind": str(self.kind),
            "connector": self.connector,
            "after": list(self.after),
            "happened_on": self.happened_on,
            "at": self.at,
            "turn": self.turn,
            "who": self.who,
            "body": self.body,
            "previous": self.previous,
        }


def canonical(value: Any) -> str:
    """JSON text with one possible form: sorted keys, no spaces, no fractions.

    For values without fractional numbers (those are refused: strengths are decimal strings) this
    is the JSON Canonicalization Scheme of RFC 8785, so other programs can work it out too.

    Example:
        >>> canonical({"b": 1, "a": "ü"})
        '{"a":"ü","b":1}'

    Raises:
        TypeError: a value that has no single form, such as a float.
    """
    _refuse_floats(value)
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def _refuse_floats(value: Any) -> None:
    if isinstance(value, float):
        raise TypeError("fractions are stored as decimal strings")
    if isinstance(value, Mapping):
        for key, item in value.items():
            if not isinstance(key, str):
                raise TypeError("keys are strings")
            _refuse_floats(item)
    elif isinstance(value, list | tuple):
        for item in value:
            _refuse_floats(item)


def hash_of(event: Event) -> str:
    """SHA-256 of the event's canonical text in UTF-8, hex."""
    return hashlib.sha256(canonical(event.content()).encode("utf-8")).hexdigest()


def sealed(event: Event) -> Event:
    """The event with its hash filled in."""
    return replace(event, hash=hash_of(event))


def stamp_time(moment: datetime) -> str:
    """A moment as stored: UTC with microseconds, so that text order is time order.

    Example:
        >>> stamp_time(datetime(2025, 3, 1, 12, tzinfo=UTC))
        '2025-03-01T12:00:00.000000Z'
    """
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def next_turn(at: str, latest: str | None) -> str:
    """The turn of a new event: its own time, or just after the latest event known.

    A clock set back, or a merged station whose clock runs ahead, so never turns cause and effect
    round (a hybrid logical clock).
    """
    if latest is None or at > latest:
        return at
    moment = datetime.strptime(latest, "%Y-%m-%dT%H:%M:%S.%fZ").replace(tzinfo=UTC)
    return stamp_time(moment + timedelta(microseconds=1))

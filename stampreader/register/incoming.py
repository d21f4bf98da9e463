"""Events from outside: what a sound one looks like, before anything is taken over."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from typing import Any

from stampreader.errors import ImportRefused, UsageError
from stampreader.register.deriving import FIELDS, KN_FIELDS
from stampreader.register.entries import clean_figure
from stampreader.register.events import WITHOUT_CONNECTOR, Event, Kind, hash_of
from stampreader.register.settings import ID_PATTERN

STATION = re.compile(r"[a-z0-9]{1,32}", re.ASCII)
MOMENT = re.compile(r"[12]\d{3}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{6}Z", re.ASCII)
SHA256 = re.compile(r"[0-9a-f]{64}", re.ASCII)
EVENT_ID = re.compile(r"[a-z0-9]{1,32}-[1-9]\d{0,11}", re.ASCII)
CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\ud800-\udfff]")
"""Characters that steer a terminal, and halves of characters; no text of ours holds any."""
MOST_LETTERS = 4000
"""A text in an event's body is at most this long."""


def event_from(given: Mapping[str, Any]) -> Event:
    """An event from a line of an exchange file; whether it is sound is for `check_event` to say.

    Raises:
        ImportRefused: a part is missing or of the wrong kind.
    """
    try:
        kind = Kind(given["kind"])
        event = Event(
            station=given["station"],
            number=given["number"],
            kind=kind,
            connector=given["connector"],
            after=tuple(given["after"]),
            happened_on=given["happened_on"],
            at=given["at"],
            turn=given["turn"],
            who=given["who"],
            body=given["body"],
            previous=given["previous"],
            hash=given["hash"],
        )
    except (KeyError, TypeError, ValueError) as error:
        raise ImportRefused(f"an event is not understood: {error}") from error
    return event


def check_event(event: Event) -> None:
    """Refuse an event that no register of ours can have written.

    Raises:
        ImportRefused: a part has a form it cannot have, or the event was altered.
    """
    fault = _form_fault(event) or _body_fault(event)
    if fault is None:
        try:
            fault = None if hash_of(event) == event.hash else "it was altered after recording"
        except (TypeError, ValueError) as error:
            fault = str(error)
    if fault is not None:
        raise ImportRefused(f"event {event.station}-{event.number}: {fault}")


def _form_fault(event: Event) -> str | None:
    """What is wrong with the parts around the body."""
    texts = (event.station, event.happened_on, event.at, event.turn, event.who, event.previous)
    if not all(isinstance(text, str) for text in (*texts, event.hash)):
        return "a part is not a text"
    if not STATION.fullmatch(event.station) or type(event.number) is not int or event.number < 1:
        return "its station or number has a form it cannot have"
    if not MOMENT.fullmatch(event.at) or not MOMENT.fullmatch(event.turn):
        return "its time is not understood"
    if not _is_day(event.happened_on):
        return f"'{event.happened_on}' is not a day"
    if not SHA256.fullmatch(event.hash) or not re.fullmatch(r"|[0-9a-f]{64}", event.previous):
        return "its hash has a form it cannot have"
    if not event.who.strip() or len(event.who) > 200 or not event.who.isprintable():
        return "it names no person"
    return _connector_fault(event)


def _connector_fault(event: Event) -> str | None:
    """What is wrong with the connector it speaks of and the events it follows."""
    if not all(isinstance(p, str) and EVENT_ID.fullmatch(p) for p in event.after):
        return "the events it follows are not understood"
    if event.kind in WITHOUT_CONNECTOR:
        return "it speaks of a connector" if event.connector is not None else None
    if not isinstance(event.connector, str) or not EVENT_ID.fullmatch(event.connector):
        return "it speaks of no connector"
    if event.kind is Kind.REGISTERED and (event.connector != event.id or event.after):
        return "it registers a connector that is not its own"
    if event.kind is not Kind.REGISTERED and not event.after:
        return "it follows no event of its connector"
    return None


def _is_day(text: str) -> bool:
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


def _body_fault(event: Event) -> str | None:
    """What is wrong with the body."""
    body = event.body
    if not isinstance(body, Mapping):
        return "its body is no table"
    if not _is_plain(body):
        return "its body holds something that is not a plain text, whole number, list or table"
    if not isinstance(body.get("place"), str | None):
        return "its place is no text"
    fields = body.get("fields", {})
    if not isinstance(fields, Mapping):
        return "its fields are no table"
    if event.kind is Kind.REGISTERED and "id" not in fields:
        return "it registers a connector without an id"
    faults = (_field_fault(str(name), value) for name, value in fields.items())
    return next((f for f in faults if f), None) or _read_fault(body.get("read", ()))


def _is_plain(value: Any, depth: int = 0) -> bool:
    if isinstance(value, str):
        return len(value) <= MOST_LETTERS and not CONTROL.search(value)
    if value is None or isinstance(value, bool | int):
        return True
    if depth > 8:
        return False
    if isinstance(value, Mapping):
        return all(
            _is_plain(k) and isinstance(k, str) and _is_plain(v, depth + 1)
            for k, v in value.items()
        )
    return isinstance(value, list) and all(_is_plain(item, depth + 1) for item in value)


def _field_fault(name: str, value: Any) -> str | None:
    if name not in FIELDS:
        return f"there is no field {name}"
    if name == "marks":
        good = isinstance(value, list | None) and all(isinstance(m, str) for m in value or ())
        return None if good else "its marks are no list of texts"
    if not isinstance(value, str | None):
        return f"its {name} is no text"
    if name in KN_FIELDS and value is not None:
        try:
            return None if clean_figure(value) == value else f"its {name} is not a strength in kN"
        except UsageError as error:
            return str(error)
    if name == "id" and not ID_PATTERN.fullmatch(value or ""):
        return f"'{value}' cannot be an id"
    return None


def _read_fault(reads: Any) -> str | None:
    """What is wrong with what was read on the photos of a connector."""
    for read in reads:
        if not isinstance(read, Mapping):
            return "a reading is no table"
        crop = read.get("crop")
        sound = (
            isinstance(read.get("photo"), str)
            and SHA256.fullmatch(read["photo"])
            and type(read.get("stamp")) is int
            and (crop is None or (isinstance(crop, str) and re.fullmatch(r"|[0-9a-f]{64}", crop)))
        )
        if not sound or not _raw_is_sound(read.get("raw")):
            return "a reading has a form it cannot have"
    return None


def _raw_is_sound(raw: Any) -> bool:
    """Whether the raw values hold the three figures as texts."""
    if not isinstance(raw, Mapping) or not isinstance(raw.get("figures"), Mapping):
        return False
    figures = [raw["figures"].get(slot) for slot in ("closed", "cross", "open")]
    return isinstance(raw.get("marks"), list) and all(
        isinstance(figure, Mapping)
        and isinstance(figure.get("kN"), str | None)
        and isinstance(figure.get("state"), str)
        for figure in figures
    )

"""Entries made by hand, and corrections: new lines in the history, never an overwrite."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import Any

from stampreader.errors import RefusedStep, UsageError
from stampreader.register.connectors import id_is_taken, new_ids
from stampreader.register.deriving import FIELDS, KN_FIELDS, Connector
from stampreader.register.events import Event, Kind
from stampreader.register.settings import ID_PATTERN, read_settings
from stampreader.register.store import Register

_DAY = re.compile(r"(\d{4})(?:-(\d{2})(?:-(\d{2}))?)?", re.ASCII)
_FIGURE = re.compile(r"\d{1,3}(?:[.,]\d{1,2})?", re.ASCII)


def clean_fields(given: Mapping[str, Any], *, at: datetime | None = None) -> dict[str, Any]:
    """Check what a person typed for an entry and bring it into the stored form.

    Args:
        given: field to text; `None` or an empty text clears a field. Marks as a list in normal
            form.
        at: the present time, where it is known; nothing is made after it.

    Example:
        >>> clean_fields({"closed_kN": "27,0", "maker": "  Felsnase "})
        {'closed_kN': '27.0', 'maker': 'Felsnase'}

    Raises:
        UsageError: a value that field cannot have.
    """
    cleaned: dict[str, Any] = {}
    for name, value in given.items():
        if name not in FIELDS:
            raise UsageError(f"there is no field {name}", remedy=f"Fields: {', '.join(FIELDS)}.")
        if name in KN_FIELDS:
            cleaned[name] = clean_figure(value)
        elif name == "marks":
            cleaned[name] = list(dict.fromkeys(str(mark) for mark in value or ()))
        else:
            cleaned[name] = _clean_text(name, "" if value is None else str(value))
    made_on = cleaned.get("made_on", "")
    if at is not None and made_on > at.astimezone().date().isoformat()[: len(made_on)]:
        raise UsageError(
            f"the date of manufacture {made_on} lies in the future", remedy="Give the day stamped."
        )
    return cleaned


def clean_figure(value: Any) -> str | None:
    """A strength as stamped, in kN, as a decimal string; `None` for none.

    Raises:
        UsageError: not a number above 0 and up to 200 with two decimals at most.
    """
    if value in (None, "", "-"):
        return None
    text = str(value).strip()
    try:
        number = Decimal(text.replace(",", "."))
    except InvalidOperation:
        number = Decimal(0)
    if not _FIGURE.fullmatch(text) or not 0 < number <= 200:
        raise UsageError(
            f"'{text}' is not a strength in kN", remedy="Give a number such as 27 or 8.5."
        )
    return str(number)


def _clean_text(name: str, text: str) -> str:
    cleaned = " ".join(text.split())
    if not cleaned.isprintable() or len(cleaned) > 200:
        raise UsageError(
            f"{name} is too long or holds unprintable characters",
            remedy="Give at most 200 letters.",
        )
    if name == "id" and not ID_PATTERN.fullmatch(cleaned):
        raise UsageError(
            f"'{cleaned}' cannot be an id",
            remedy="Use up to 40 letters, digits, '.', '_', '/' or '-'.",
        )
    if name == "made_on" and cleaned and not _is_day(cleaned):
        raise UsageError(
            f"'{cleaned}' is not a date of manufacture", remedy="Give 2024, 2024-05 or 2024-05-31."
        )
    return cleaned


def on_one_line(text: str) -> str:
    """A text from outside, such as a file's name, on one line and without control characters."""
    return "".join(c for c in " ".join(text.split()) if c.isprintable())


def _is_day(text: str) -> bool:
    found = _DAY.fullmatch(text)
    if found is None:
        return False
    year, month, day = (int(part or 1) for part in found.groups())
    try:
        date(year, month, day)
    except ValueError:
        return False
    return year >= 1950


def add_by_hand(register: Register, fields: Mapping[str, Any], *, who: str, at: datetime) -> Event:
    """Enter a connector without a photo; it stays marked as entered by hand.

    Raises:
        UsageError: a value a field cannot have.
        RefusedStep: the id is taken.
    """
    kept = {k: v for k, v in clean_fields(fields, at=at).items() if v not in (None, "", [])}
    with register.writing():
        if "id" not in kept:
            kept["id"] = next(new_ids(register, read_settings(register).id_prefix))
        _refuse_taken(register, kept["id"])
        return register.record(
            Kind.REGISTERED, None, {"fields": kept, "by_hand": True}, who=who, at=at
        )


def correct_entry(
    register: Register,
    connector: Connector,
    fields: Mapping[str, Any],
    *,
    why: str,
    who: str,
    at: datetime,
) -> Event | None:
    """Correct an entry; the history keeps what stood there before. `None` if nothing differs.

    Raises:
        UsageError: a value a field cannot have.
        RefusedStep: the id is taken by another connector.
    """
    cleaned = clean_fields(fields, at=at)
    with register.writing():
        changed = {k: v for k, v in cleaned.items() if v != _present(connector, k)}
        if not changed:
            return None
        if changed.get("id", connector.id).lower() != connector.id.lower():
            _refuse_taken(register, changed["id"])
        before = {k: _present(connector, k) for k in changed}
        body = {"fields": changed, "before": before, "why": why}
        return register.record(Kind.CORRECTED, connector.uid, body, who=who, at=at)


def _present(connector: Connector, name: str) -> Any:
    value = getattr(connector, name)
    if name in KN_FIELDS:
        return None if value is None else str(value)
    return list(value) if name == "marks" else value


def _refuse_taken(register: Register, id: str) -> None:
    if id_is_taken(register, id):
        raise RefusedStep(f"the id {id} is taken by another connector", remedy="Give another id.")

"""A team's settings, kept in the register; each change is an event of its history."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, fields
from datetime import datetime
from decimal import Decimal, InvalidOperation

from stampreader.errors import UsageError
from stampreader.register.events import Kind
from stampreader.register.store import Register

ID_PATTERN = re.compile(r"[A-Z0-9][A-Z0-9._/-]{0,39}", re.IGNORECASE | re.ASCII)
"""What a readable id may look like: letters, digits, `.`, `_`, `/`, `-`; 40 characters at most."""


@dataclass(frozen=True, slots=True)
class Settings:
    """What a team has set, or the usual value.

    Attributes:
        person: name written beside decisions; empty: the login name of this computer.
        team: name printed on reports.
        ratio: strength to load that the team demands.
        person_kN: load of one person with kit, in kN.
        interval_months: months between two inspections.
        due_soon_days: how long before its day an inspection counts as soon due.
        id_prefix: how the ids given to new connectors begin.
        ask_below: a figure read with less confidence than this is asked about by itself.
    """

    person: str = ""
    team: str = ""
    ratio: Decimal = Decimal(10)
    person_kN: Decimal = Decimal("1.0")
    interval_months: int = 12
    due_soon_days: int = 30
    id_prefix: str = "C-"
    ask_below: Decimal = Decimal("0")


def _name(text: str) -> str:
    cleaned = " ".join(text.split())
    if len(cleaned) > 80 or not cleaned.isprintable():
        raise ValueError("at most 80 letters")
    return cleaned


def _above_nothing(text: str) -> Decimal:
    value = _decimal(text)
    if not 0 < value <= 1000:
        raise ValueError("a number above 0")
    return value


def _share(text: str) -> Decimal:
    value = _decimal(text)
    if not 0 <= value <= 1:
        raise ValueError("a number from 0 to 1")
    return value


def _decimal(text: str) -> Decimal:
    try:
        value = Decimal(text.strip())
    except InvalidOperation as error:
        raise ValueError("a number such as 10 or 1.5") from error
    if not value.is_finite():
        raise ValueError("a number such as 10 or 1.5")
    return value


def _ratio(text: str) -> Decimal:
    return _above_nothing(text.strip().removesuffix(":1"))


def _months(text: str) -> int:
    return _whole(text, 1, 120)


def _days(text: str) -> int:
    return _whole(text, 0, 3650)


def _whole(text: str, lowest: int, highest: int) -> int:
    if not re.fullmatch(r"\d{1,5}", text.strip()) or not lowest <= int(text) <= highest:
        raise ValueError(f"a whole number from {lowest} to {highest}")
    return int(text)


def _prefix(text: str) -> str:
    if not ID_PATTERN.fullmatch(text + "1") or text[-1:].isdigit() or len(text) > 20:
        raise ValueError("letters, digits, '.', '_', '/' or '-', not ending in a digit")
    return text


PARSERS: dict[str, Callable[[str], str | int | Decimal]] = {
    "person": _name,
    "team": _name,
    "ratio": _ratio,
    "person_kN": _above_nothing,
    "interval_months": _months,
    "due_soon_days": _days,
    "id_prefix": _prefix,
    "ask_below": _share,
}

MEANINGS = {
    "person": "name written beside decisions",
    "team": "name printed on reports",
    "ratio": "strength to load that is demanded, such as 10 for 10:1",
    "person_kN": "load of one person with kit, in kN",
    "interval_months": "months between two inspections",
    "due_soon_days": "days before an inspection that it counts as soon due",
    "id_prefix": "how the ids of new connectors begin",
    "ask_below": "a figure read with less confidence is asked about by itself (0 to 1)",
}


def read_settings(register: Register) -> Settings:
    """What is set in this register; the usual value where nothing is."""
    stored = {
        str(row["name"]): str(row["value"]) for row in register.rows("SELECT * FROM settings")
    }
    return Settings(
        **{  # type: ignore[arg-type]
            name: PARSERS[name](value) for name, value in stored.items() if name in PARSERS
        }
    )


def change_setting(register: Register, name: str, text: str, *, who: str, at: datetime) -> None:
    """Set one value; the change is written in the history.

    Raises:
        UsageError: no such setting, or a value it cannot have.
    """
    if name not in PARSERS:
        raise UsageError(
            f"there is no setting {name}", remedy=f"The settings are {', '.join(PARSERS)}."
        )
    try:
        value = str(PARSERS[name](text))
    except ValueError as error:
        raise UsageError(f"{name} cannot be '{text}'", remedy=f"Give {error}.") from error
    with register.writing():
        register.record(Kind.SETTING, None, {"name": name, "value": value}, who=who, at=at)
        register.db.conn.execute(
            "INSERT INTO settings (name, value) VALUES (?, ?)"
            " ON CONFLICT (name) DO UPDATE SET value = excluded.value",
            [name, value],
        )


def setting_names() -> tuple[str, ...]:
    """Names of all settings in the order they are listed."""
    return tuple(f.name for f in fields(Settings))

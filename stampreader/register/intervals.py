"""How long an inspection holds: the team's interval, and kits with one of their own."""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from stampreader.errors import UsageError
from stampreader.register.deriving import Connector
from stampreader.register.events import Kind
from stampreader.register.life import clean_place
from stampreader.register.settings import read_settings
from stampreader.register.steps import Life
from stampreader.register.store import Register

OF_KIT = "interval_months of "
"""How the name of a kit's setting begins; the kit's name follows."""
MOST_MONTHS = 120
INSPECTED_LIVES = (Life.REGISTERED, Life.IN_SERVICE, Life.QUARANTINED)
"""States in which a connector is inspected at its interval."""


@dataclass(frozen=True, slots=True)
class Intervals:
    """Months between two inspections.

    Attributes:
        months: everywhere else.
        kits: kits and stores with an interval of their own, by name as first written.
    """

    months: int = 12
    kits: Mapping[str, int] = field(default_factory=dict)

    def months_of(self, place: str) -> int:
        """The interval in a kit or store; names are compared without case."""
        wanted = same_case(place)
        for name, months in self.kits.items():
            if same_case(name) == wanted:
                return months
        return self.months


def same_case(text: str) -> str:
    """Text as the register compares it: letters A to Z without case, as SQLite's NOCASE does."""
    return "".join(c.lower() if c.isascii() else c for c in text)


def read_intervals(register: Register) -> Intervals:
    """The intervals as set in this register."""
    rows = register.rows(
        "SELECT name, value FROM settings WHERE name >= ? AND name < ? AND value != ''"
        " ORDER BY name",
        [OF_KIT, OF_KIT + "\U0010ffff"],
    )
    kits = {str(row["name"])[len(OF_KIT) :]: int(row["value"]) for row in rows}
    return Intervals(read_settings(register).interval_months, kits)


def set_interval(
    register: Register, place: str, months: int | None, *, who: str, at: datetime
) -> None:
    """Give a kit or store an interval of its own, or take it away again with `None`.

    Raises:
        UsageError: not from 1 to 120 months, a name that cannot be one, or nothing to take away.
    """
    name = clean_place(place)
    if months is not None and not 1 <= months <= MOST_MONTHS:
        raise UsageError(
            f"an interval of {months} months cannot be", remedy=f"Give 1 to {MOST_MONTHS} months."
        )
    with register.writing():
        known = read_intervals(register).kits
        name = next((kit for kit in known if same_case(kit) == same_case(name)), name)
        if months is None and name not in known:
            raise UsageError(f"{name} has no interval of its own", remedy="")
        value = "" if months is None else str(months)
        setting = OF_KIT + name
        register.record(Kind.SETTING, None, {"name": setting, "value": value}, who=who, at=at)
        register.db.conn.execute(
            "INSERT INTO settings (name, value) VALUES (?, ?)"
            " ON CONFLICT (name) DO UPDATE SET value = excluded.value",
            [setting, value],
        )


def add_months(day: date, months: int) -> date:
    """So many months later; a day the month does not have is moved to the month's last.

    Example:
        >>> add_months(date(2024, 8, 31), 6)
        datetime.date(2025, 2, 28)
    """
    index = day.year * 12 + day.month - 1 + months
    year, month = index // 12, index % 12 + 1
    return date(year, month, min(day.day, monthrange(year, month)[1]))


def latest_start(day: date, months: int) -> date:
    """The latest day from which an interval ends on or before a day: `add_months` turned round.

    Example:
        >>> latest_start(date(2025, 2, 28), 12)
        datetime.date(2024, 2, 29)
    """
    index = day.year * 12 + day.month - 1 - months
    year, month = index // 12, index % 12 + 1
    last = monthrange(year, month)[1]
    at_its_end = day.day == monthrange(day.year, day.month)[1]
    return date(year, month, last if at_its_end else min(day.day, last))


def next_due(connector: Connector, intervals: Intervals) -> date | None:
    """Day of the next inspection; `None` for a connector that is lost or out of use for good.

    The interval of its kit counts from the last passed inspection, else from the first day in
    service, else from the day it was registered. On that day it is due, after it overdue.
    """
    if connector.life not in INSPECTED_LIVES:
        return None
    start = date.fromisoformat(connector.due_from_on)
    return add_months(start, intervals.months_of(connector.place))

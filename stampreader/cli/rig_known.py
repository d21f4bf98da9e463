"""What a rig needs to know of a connector in the register: figures, and whether it may be used."""

from __future__ import annotations

from calendar import monthrange
from datetime import date

from stampreader.register import LIFE_WORDS, Connector, Life, Settings
from stampreader.rig import Known

FIT_LIVES = (Life.REGISTERED, Life.IN_SERVICE)


def known_of(connector: Connector, settings: Settings, today: date) -> Known:
    """A registered connector as the rig takes it.

    One that is quarantined, lost, retired or overdue for inspection is barred; so is one that two
    stations recorded differently.
    """
    return Known(
        id=connector.id,
        name=" ".join(part for part in (connector.maker, connector.model) if part),
        closed=connector.closed_kN,
        cross=connector.cross_kN,
        open=connector.open_kN,
        barred=_bar(connector, settings, today),
        remarks=_remarks(connector),
    )


def _bar(connector: Connector, settings: Settings, today: date) -> str | None:
    if connector.life not in FIT_LIVES:
        return LIFE_WORDS[connector.life]
    if connector.conflicts:
        return "in conflict between stations"
    due = due_on(connector.due_from_on, settings.interval_months)
    if due is not None and due < today:
        return f"overdue for inspection since {due.isoformat()}"
    return None


def _remarks(connector: Connector) -> tuple[str, ...]:
    if connector.life is Life.REGISTERED:
        return ("registered, not yet put in service",)
    return ()


def due_on(from_on: str, months: int) -> date | None:
    """The day an inspection falls due: so many months after a day, at most at the month's end.

    Example: 12 months after 2024-02-29 is 2025-02-28. `None` where no day is known.
    """
    if not from_on:
        return None
    start = date.fromisoformat(from_on[:10])
    year, month = divmod(start.month - 1 + months, 12)
    year += start.year
    return date(year, month + 1, min(start.day, monthrange(year, month + 1)[1]))

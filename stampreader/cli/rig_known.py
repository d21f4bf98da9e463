"""What a rig needs to know of a connector in the register: figures, and whether it may be used."""

from __future__ import annotations

from datetime import date

from stampreader.cli.fitness import remarks_of
from stampreader.register import LIFE_WORDS, Connector, Intervals, Life, next_due
from stampreader.rig import Known

FIT_LIVES = (Life.REGISTERED, Life.IN_SERVICE)


def known_of(connector: Connector, intervals: Intervals, today: date) -> Known:
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
        barred=_bar(connector, intervals, today),
        remarks=_remarks(connector),
    )


def _bar(connector: Connector, intervals: Intervals, today: date) -> str | None:
    if connector.life not in FIT_LIVES:
        return LIFE_WORDS[connector.life]
    if connector.conflicts:
        return "recorded differently by two stations"
    due = next_due(connector, intervals)
    if due is not None and due < today:
        return f"overdue for inspection since {due.isoformat()}"
    return None


def _remarks(connector: Connector) -> tuple[str, ...]:
    new = ("registered, not yet put in service",) if connector.life is Life.REGISTERED else ()
    return (*new, *remarks_of(connector))

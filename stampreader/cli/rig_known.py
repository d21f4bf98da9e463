"""What a rig needs to know of a connector in the register: figures, and whether it may be used."""

from __future__ import annotations

from datetime import date

from stampreader.cli.fitness import bars_of, remarks_of
from stampreader.register import Connector, Intervals, Life
from stampreader.rig import Known


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
        barred="; ".join(bars_of(connector, intervals, today, for_a_margin=True)) or None,
        remarks=_remarks(connector),
    )


def _remarks(connector: Connector) -> tuple[str, ...]:
    new = ("registered, not yet put in service",) if connector.life is Life.REGISTERED else ()
    return (*new, *remarks_of(connector))

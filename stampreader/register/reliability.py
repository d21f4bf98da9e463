"""What was read as sure beside what a person confirmed, connector by connector."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from stampreader.register.store import Register
from stampreader.words import SLOTS, State


@dataclass(frozen=True, slots=True)
class SureFigure:
    """A figure that was read as sure.

    Attributes:
        id: readable id of its connector.
        slot: closed, cross or open.
        read_kN: as read.
        kN: as it stands in the register now, `None` where a person left it out.
        confidence: of the reading.
    """

    id: str
    slot: str
    read_kN: Decimal
    kN: Decimal | None
    confidence: Decimal

    @property
    def wrong(self) -> bool:
        """Whether the register says otherwise."""
        return self.kN is None or self.kN != self.read_kN


def sure_figures(register: Register) -> dict[str, list[SureFigure]]:
    """Figures read as sure by the key of their connector; withdrawn entries are left out."""
    rows = register.rows(
        "SELECT c.uid, c.id, c.closed_kN, c.cross_kN, c.open_kN, e.body FROM connectors c"
        " JOIN events e ON e.station || '-' || e.number = c.uid"
        " WHERE e.kind = 'registered' AND c.life != 'withdrawn' ORDER BY c.prefix, c.running, c.id"
    )
    found: dict[str, list[SureFigure]] = {}
    for row in rows:
        now = {slot.value: row[f"{slot.value}_kN"] for slot in SLOTS}
        sure = [
            SureFigure(
                str(row["id"]),
                slot,
                Decimal(read["kN"]),
                None if now[slot] is None else Decimal(now[slot]),
                Decimal(read["confidence"]),
            )
            for sighting in json.loads(row["body"]).get("read", ())
            for slot, read in sighting["raw"]["figures"].items()
            if read["state"] == State.SURE.value and read["kN"] is not None
        ]
        if sure:
            found[str(row["uid"])] = sure
    return found


def counted(
    figures: Sequence[Sequence[SureFigure]], least: Decimal = Decimal(0)
) -> tuple[int, int]:
    """(connectors with a figure sure at this confidence, those of them with a wrong one)."""
    kept = [[f for f in own if f.confidence >= least] for own in figures]
    return sum(map(bool, kept)), sum(any(f.wrong for f in own) for own in kept)


def threshold_above(figures: Sequence[Sequence[SureFigure]]) -> Decimal | None:
    """The least confidence, to three decimals, above every wrong one; `None` if 1 is not enough."""
    worst = max((f.confidence for own in figures for f in own if f.wrong), default=Decimal(0))
    above = Decimal(math.floor(worst * 1000) + 1) / 1000
    return above if above <= 1 else None

"""The margins of one connector in its three directions, and of several, weakest first."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from stampreader.margin.slot import SlotMargin, Verdict, judge_slot
from stampreader.units import PERSON_kN, Strength
from stampreader.words import SLOTS, Slot


@dataclass(frozen=True, slots=True)
class Strengths:
    """The strengths stamped on one connector; `None` where there is no figure or it is unknown."""

    closed: Strength | None = None
    cross: Strength | None = None
    open: Strength | None = None

    def of(self, slot: Slot) -> Strength | None:
        """The strength of one direction."""
        return {Slot.CLOSED: self.closed, Slot.CROSS: self.cross, Slot.OPEN: self.open}[slot]

    @classmethod
    def from_kN(
        cls,
        closed: Decimal | None = None,
        cross: Decimal | None = None,
        open: Decimal | None = None,
    ) -> Strengths:
        """Strengths from figures in kN, as the register holds them."""
        return cls(*(None if kN is None else Strength(kN) for kN in (closed, cross, open)))


@dataclass(frozen=True, slots=True)
class ConnectorMargin:
    """The margins of one connector; `slots` holds the directions that were asked for."""

    name: str
    slots: tuple[SlotMargin, ...]

    @property
    def weakest(self) -> SlotMargin:
        """The direction that leaves least; an unknown one is weaker than any figure."""
        return min(self.slots, key=_weakness)

    @property
    def verdict(self) -> Verdict:
        """The worst verdict among the directions: allowed only if every one is."""
        verdicts = [slot.verdict for slot in self.slots]
        if Verdict.NOT_ALLOWED in verdicts:
            return Verdict.NOT_ALLOWED
        return Verdict.UNKNOWN if Verdict.UNKNOWN in verdicts else Verdict.ALLOWED


def judge_connector(
    name: str,
    strengths: Strengths,
    load_kN: Decimal | Fraction,
    ratio: Decimal,
    person_kN: Decimal = PERSON_kN,
    slots: Sequence[Slot] = SLOTS,
) -> ConnectorMargin:
    """The margins one connector leaves in each direction it may be loaded.

    The force is taken to be the same in every direction: what would happen if the connector
    turned under this load, or its gate stood open.

    Raises:
        UsageError: as `judge_slot`.
    """
    rows = (judge_slot(s, strengths.of(s), load_kN, ratio, person_kN) for s in slots)
    return ConnectorMargin(name, tuple(rows))


def weakest_first(connectors: Iterable[ConnectorMargin]) -> tuple[ConnectorMargin, ...]:
    """Connectors by the direction that leaves least; those with an unknown figure come first."""
    return tuple(sorted(connectors, key=lambda c: [_weakness(s) for s in _ordered(c)]))


def _ordered(connector: ConnectorMargin) -> list[SlotMargin]:
    """Directions of a connector, weakest first."""
    return sorted(connector.slots, key=_weakness)


def _weakness(slot: SlotMargin) -> Fraction:
    """Sort key: allowed load in kN; nothing for an unknown figure."""
    return Fraction(0) if slot.allowed is None else slot.allowed

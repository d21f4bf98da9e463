"""Connectors of the register for the open places of a rig, by the rules of their uses."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from itertools import islice
from pathlib import Path

from stampreader.cli.fitness import candidate_of, known_uses
from stampreader.cli.picking import demands_of
from stampreader.cli.rig_known import known_of
from stampreader.fit import find_use, unfit
from stampreader.register import EVERYWHERE, Register, candidates, read_intervals
from stampreader.rig import Known, Offers, OpenPlace
from stampreader.words import Slot

MOST_OFFERED = 200
"""So many connectors are offered for a place; more would only be choices nobody looks at."""


def offers_of(book: Register, rules_file: Path | None, today: date) -> Offers:
    """What to offer for an open place: connectors fit for its use, longest time left first.

    The use a place is wanted for, in the plan's words, is the name of a rule: `life support` is
    the rule `life-support`.

    Raises:
        RulesError: the team's rules cannot be understood.
    """
    uses, _ = known_uses(book.path, rules_file)
    intervals = read_intervals(book)

    def offered(place: OpenPlace) -> Iterator[Known]:
        use = find_use(uses, place.use)
        least = place.needs_kN if place.slot is Slot.CLOSED else None
        demands = demands_of(book, use, least)
        found = candidates(book, demands, EVERYWHERE, intervals, today)
        fit = (c for c in found if not unfit(candidate_of(c, intervals, today), use))
        return (known_of(c, intervals, today) for c in islice(fit, MOST_OFFERED))

    return offered

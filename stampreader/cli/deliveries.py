"""A delivery against its order, and what waits, on the screen or as JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from stampreader.cli.choosing import typed_marks
from stampreader.confirm import (
    Difference,
    Entry,
    Order,
    compare,
    confirmed_entry,
    entry_of,
    outcome,
    parse_order,
)
from stampreader.errors import UsageError
from stampreader.register import Filter, Register, list_connectors, order_of, waiting
from stampreader.words import SLOTS, Arrival


def typed_orders(texts: Sequence[str]) -> tuple[Order, ...]:
    """Order lines as typed after `--expect`, marks in normal form.

    Raises:
        UsageError: a line is not understood, or names a mark that is none.
    """
    if not all(text.isprintable() for text in texts):
        raise UsageError("--expect holds unprintable characters", remedy="Type it again.")
    orders = (parse_order(text) for text in texts)
    return tuple(replace(o, marks=typed_marks(", ".join(o.marks))) for o in orders)


def differences(register: Register, delivery: str) -> tuple[Difference, ...]:
    """How the delivery differs from its order: what is confirmed and what still waits."""
    orders = [Order.from_json(line) for line in order_of(register, delivery)]
    entries: dict[int, Entry] = {a.key: entry_of(a) for a in waiting(register, delivery)}
    for number, entry in enumerate(confirmed_entries(register, delivery), 1):
        entries[-number] = entry
    return compare(orders, entries)


def confirmed_entries(register: Register, delivery: str) -> list[Entry]:
    """Entries of a delivery that are in the register already."""
    return [
        confirmed_entry(
            (connector.closed_kN, connector.cross_kN, connector.open_kN),
            connector.marks,
            {"maker": connector.maker, "model": connector.model},
        )
        for connector in list_connectors(register, Filter(delivery=delivery))
    ]


def difference_lines(register: Register, delivery: str) -> Iterator[str]:
    """The comparison with the order, one line a difference; nothing without an order."""
    lines = order_of(register, delivery)
    if not lines:
        return
    found = differences(register, delivery)
    if not found:
        yield f"Delivery {delivery} agrees with the order in all that was read."
    else:
        yield f"Delivery {delivery} differs from the order:"
        for difference in found:
            count = len(difference.arrivals)
            many = f"  ({count} connector{'s' if count > 1 else ''})" if count else ""
            yield f"  {difference}{many}"
    if any(line["maker"] or line["model"] for line in lines):
        yield "  Makers and models are not read from the stamp: compare them by eye."


def waiting_rows(arrivals: Sequence[Arrival]) -> list[dict[str, Any]]:
    """What waits, as JSON objects."""
    rows = []
    for arrival in arrivals:
        entry = entry_of(arrival)
        rows.append(
            {
                "arrival": arrival.key,
                "delivery": arrival.delivery,
                "status": "waiting",
                "label": arrival.label,
                "outcome": outcome(entry).value,
                **{f"{slot.value}_kN": entry.kN(slot) for slot in SLOTS},
                "marks": list(entry.marks),
                "serial": entry.serial or None,
                "photos": [s.path for s in arrival.seen],
                "notes": [*arrival.notes, *entry.stamp.notes],
            }
        )
    return rows

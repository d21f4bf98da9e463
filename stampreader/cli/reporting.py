"""What each report shows: the register's values gathered for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction

from stampreader.confirm import (
    Difference,
    Entry,
    Order,
    assign,
    compare,
    confirmed_entry,
    entry_of,
    figures_text,
    standards_advice,
)
from stampreader.errors import UsageError
from stampreader.register import (
    Connector,
    Filter,
    Kind,
    Register,
    find_connector,
    first_crop,
    list_connectors,
    order_of,
    read_crop,
    read_settings,
    set_aside_of,
    waiting,
)
from stampreader.report import Delivery, OrderLine, ReadLine
from stampreader.report.filing import name_of
from stampreader.standards import NO_THIRD_PARTY, third_party_marks
from stampreader.words import Arrival


@dataclass(frozen=True, slots=True)
class Member:
    """One connector of a delivery: its entry for comparing, and its line for the report."""

    entry: Entry
    line: ReadLine


def delivery_of(register: Register, name: str) -> Delivery:
    """A delivery as ordered, read and decided.

    Raises:
        UsageError: nothing of a delivery with this name is known.
    """
    connectors = [
        find_connector(register, connector.uid)
        for connector in list_connectors(register, Filter(delivery=name))
    ]
    arrivals = waiting(register, name)
    orders = [Order.from_json(line) for line in order_of(register, name)]
    aside = set_aside_of(register, name)
    if not (connectors or arrivals or orders or aside):
        raise UsageError(
            f"no delivery '{name}' is known",
            remedy="See `stampreader list` for the names of deliveries.",
        )
    members = {number: _confirmed(register, c) for number, c in enumerate(connectors, 1)}
    members |= {-a.key: _waiting(register, a) for a in arrivals}
    entries = {key: member.entry for key, member in members.items()}
    found = compare(orders, entries)
    days, people = _taken_in(register, connectors)
    return Delivery(
        name=name,
        taken_in_on=max(days) if days else None,
        taken_in_by=", ".join(people),
        order=_order_lines(orders, entries),
        lines=(*_lines(members, found), *(_aside(path) for path in aside)),
        differences=tuple(str(d) for d in found if not d.arrivals),
        advice=_advice(members),
    )


def _confirmed(register: Register, connector: Connector) -> Member:
    figures = (connector.closed_kN, connector.cross_kN, connector.open_kN)
    named = {"maker": connector.maker, "model": connector.model, "gate": connector.gate}
    crop = first_crop(register, connector.photos)
    line = ReadLine(
        connector.id, name_of(connector), connector.serial, *figures, connector.marks,
        _decision(register, connector), (), crop.picture if crop else None,
    )  # fmt: skip
    return Member(confirmed_entry(figures, connector.marks, named), line)


def _decision(register: Register, connector: Connector) -> str:
    if any(event.kind is Kind.CORRECTED for event in register.history(connector.uid)):
        return "corrected"
    return "entered by hand" if connector.by_hand else "confirmed"


def _waiting(register: Register, arrival: Arrival) -> Member:
    entry = entry_of(arrival)
    crops = [seen.crop for seen in arrival.seen if seen.crop]
    picture = read_crop(register, crops[0]).picture if crops else None
    fields = entry.fields or {}
    name = " ".join(filter(None, (fields.get("maker"), fields.get("model"))))
    line = ReadLine("", name, entry.serial, *entry.values, entry.marks, "waiting", (), picture)
    return Member(entry, line)


def _aside(path: str) -> ReadLine:
    return ReadLine("", f"photo {path}", decision="set aside", set_aside=True)


def _lines(members: dict[int, Member], found: Sequence[Difference]) -> list[ReadLine]:
    said: dict[int, list[str]] = {key: [] for key in members}
    for difference in found:
        for key in difference.arrivals:
            said[key].append(str(difference))
    return [replace(member.line, differences=tuple(said[k])) for k, member in members.items()]


def _order_lines(orders: Sequence[Order], entries: dict[int, Entry]) -> tuple[OrderLine, ...]:
    assigned = list(assign(orders, entries).values())
    return tuple(
        OrderLine(
            name=" ".join(filter(None, (order.maker, order.model))),
            ordered=order.count,
            arrived=sum(1 for other in assigned if other is order),
            figures="" if order.figures is None else figures_text(order.figures),
            marks=order.marks,
        )
        for order in orders
    )


def _advice(members: dict[int, Member]) -> tuple[str, ...]:
    """What the claimed standards say, each sentence once with the ids it is about."""
    about: dict[str, list[str]] = {}
    for member in members.values():
        texts = [advice.text for advice in standards_advice(member.entry)]
        if not third_party_marks(member.entry.marks):
            texts.append(f"{NO_THIRD_PARTY}.")
        for text in texts:
            about.setdefault(text, []).append(member.line.id or "not registered")
    return tuple(f"{_few(ids)}: {text}" for text, ids in about.items())


def _few(ids: Sequence[str]) -> str:
    names = list(dict.fromkeys(ids))
    return ", ".join(names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "")


def _taken_in(register: Register, connectors: Sequence[Connector]) -> tuple[list[date], list[str]]:
    first = [register.history(connector.uid)[0] for connector in connectors]
    days = [date.fromisoformat(event.happened_on) for event in first]
    return days, list(dict.fromkeys(event.who for event in first))


def margin_terms(
    register: Register, load: str | None, ratio: str | None
) -> tuple[Decimal | Fraction | None, Decimal | None]:
    """Load in kN and ratio for the margins of a card, as typed or as set; none without a load."""
    from stampreader.margin import parse_ratio
    from stampreader.units import parse_load

    if load is None:
        return None, None
    settings = read_settings(register)
    force = parse_load(load, settings.person_kN)
    return force.kN, parse_ratio(ratio) if ratio is not None else settings.ratio


def today_of(moment: datetime) -> date:
    """The day of a moment where the person is."""
    return moment.astimezone().date()

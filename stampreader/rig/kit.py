"""The kit a plan needs, and connectors for its open places."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from stampreader.rig.judge import Row, Worked, judge_hold
from stampreader.rig.plan import Hold, Known, Plan, Point
from stampreader.units import round_up
from stampreader.words import Slot


@dataclass(frozen=True, slots=True)
class KitLine:
    """One line of a kit list: a piece of hardware and every place it is used in."""

    name: str
    id: str | None
    places: tuple[str, ...]
    count: int
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class OpenPlace:
    """A place of a plan that still needs a connector.

    Attributes:
        place: the point.
        use: what the connector is wanted for, in the plan's words.
        position: its number among the hardware of that point, from 0.
        force_kN: what it will carry.
        slot: the direction it is loaded in.
        needs_kN: the least figure in that direction that keeps the ratio, rounded up.
    """

    place: str
    position: int
    use: str
    force_kN: Fraction
    slot: Slot
    needs_kN: Decimal
    keeps: Decimal


@dataclass(frozen=True, slots=True)
class Filled:
    """A plan with its open places filled as far as could be; `empty` says why one was not."""

    plan: Plan
    chosen: tuple[tuple[OpenPlace, Known], ...]
    empty: tuple[tuple[OpenPlace, str], ...]


Offers = Callable[[OpenPlace], Iterable[Known]]
"""Connectors that qualify for the use of an open place, best first. The register's rules of fitness
decide that; here only the figure, the bar and that each is used once are checked."""


def kit_list(worked: Worked) -> tuple[KitLine, ...]:
    """Every piece of hardware of a plan: connectors by id first, equal pieces counted together."""
    grouped: dict[tuple[str, ...], list[Row]] = {}
    for row in worked.rows:
        if row.place.startswith(("leg to ", "rope ")) and not row.hold.is_connector:
            key: tuple[str, ...] = ("~", row.hold.name, row.place)
        else:
            hold = row.hold
            figures = (hold.closed, hold.cross, hold.open, hold.strength)
            key = (hold.id or "~", hold.name, *map(str, figures))
        grouped.setdefault(key, []).append(row)
    return tuple(
        KitLine(
            rows[0].hold.name,
            rows[0].hold.id,
            tuple(row.place for row in rows),
            len(rows),
            tuple(rows),
        )
        for _, rows in sorted(grouped.items())
    )


def open_places(worked: Worked) -> tuple[OpenPlace, ...]:
    """The places that still need a connector, the most demanding first."""
    places = [
        OpenPlace(
            name,
            position,
            hold.wanted,
            force := Fraction(row.judged.load_kN),
            hold.loaded,
            round_up(force * Fraction(worked.plan.ratio) / Fraction(hold.keeps), 2),
            hold.keeps,
        )
        for name, point in worked.plan.points.items()
        for position, hold in enumerate(point.held_by)
        if hold.wanted is not None
        for row in worked.rows
        if row.hold is hold and row.place == name
    ]
    return tuple(sorted(places, key=lambda place: -place.needs_kN))


def fill(worked: Worked, offers: Offers) -> Filled:
    """Choose a connector for each open place so that as many as possible are filled.

    A connector is used once, is not barred, and keeps the plan's ratio in the direction it is
    loaded; among those the order of the offers is followed, except where giving a connector to
    another place lets one more place be filled.
    """
    places = open_places(worked)
    fitting = [
        {known.id: known for known in offers(place) if _fits(worked.plan, place, known)}
        for place in places
    ]
    used = {hold.id for point in worked.plan.points.values() for hold in point.held_by if hold.id}
    taken: dict[str, int] = {}
    for index in range(len(places)):
        _give(index, fitting, taken, set(used))
    by_index = {index: fitting[index][known_id] for known_id, index in taken.items()}
    chosen = tuple((places[index], known) for index, known in sorted(by_index.items()))
    return Filled(
        put_in(worked.plan, chosen),
        chosen,
        tuple((p, _why_empty(p)) for index, p in enumerate(places) if index not in by_index),
    )


def put_in(plan: Plan, chosen: Iterable[tuple[OpenPlace, Known]]) -> Plan:
    """The plan with chosen connectors in its open places."""
    for place, known in chosen:
        plan = _put(plan, place, known)
    return plan


def _why_empty(place: OpenPlace) -> str:
    return (
        f"no free connector for '{place.use}' at {place.place} with {place.slot} "
        f"{place.needs_kN} kN or more"
    )


def _fits(plan: Plan, place: OpenPlace, known: Known) -> bool:
    """Whether a connector keeps the ratio in a place and may be used."""
    hold = _hold(place, known)
    row = judge_hold(plan, place.place, place.place, hold, place.force_kN, place.slot)
    return row.outcome.allowed


def _give(
    index: int, fitting: list[dict[str, Known]], taken: dict[str, int], tried: set[str]
) -> bool:
    """Give a place a connector; one that is taken is freed if its holder can take another."""
    for known_id in fitting[index]:
        if known_id in tried:
            continue
        tried.add(known_id)
        if known_id not in taken or _give(taken[known_id], fitting, taken, tried):
            taken[known_id] = index
            return True
    return False


def _hold(place: OpenPlace, known: Known) -> Hold:
    return Hold(
        name=f"{known.id} {known.name}".strip(),
        closed=known.closed,
        cross=known.cross,
        open=known.open,
        loaded=place.slot,
        keeps=place.keeps,
        id=known.id,
        barred=known.barred,
        remarks=known.remarks,
    )


def _put(plan: Plan, place: OpenPlace, known: Known) -> Plan:
    point: Point = plan.points[place.place]
    held_by = list(point.held_by)
    held_by[place.position] = _hold(place, known)
    points = {**plan.points, place.place: replace(point, held_by=tuple(held_by))}
    return replace(plan, points=points)

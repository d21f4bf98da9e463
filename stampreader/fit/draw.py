"""Drawing a kit: so many connectors for each use, none of them twice."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Need:
    """So many connectors for one use."""

    use: str
    count: int


@dataclass(frozen=True, slots=True)
class Drawn:
    """A kit.

    Attributes:
        chosen: ids for each use, in the order they were offered.
        missing: how many are wanting for each use, where not enough could be found.
    """

    chosen: Mapping[str, tuple[str, ...]]
    missing: Mapping[str, int]


def draw(needs: Sequence[Need], offers: Mapping[str, Sequence[str]]) -> Drawn:
    """Give every use as many connectors as it needs, as far as they go.

    Each connector serves one use. The order of the offers is followed, except where giving a
    connector to another use lets one more be served, so that no use goes short while a kit that
    serves it can be drawn from the same connectors.

    Args:
        needs: uses with their counts.
        offers: ids fit for each use, best first.
    """
    places = [need.use for need in needs for _ in range(need.count)]
    taken: dict[str, int] = {}
    for place in range(len(places)):
        _serve(place, places, offers, taken)
    held = {place: id for id, place in taken.items()}
    chosen: dict[str, tuple[str, ...]] = {}
    for need in needs:
        own = [held[place] for place, use in enumerate(places) if use == need.use and place in held]
        chosen[need.use] = _ordered(own, offers[need.use])
    counted = {need.use: need.count - len(chosen[need.use]) for need in needs}
    return Drawn(chosen, {use: count for use, count in counted.items() if count})


def _ordered(ids: Sequence[str], offered: Sequence[str]) -> tuple[str, ...]:
    rank = {id: number for number, id in enumerate(offered)}
    return tuple(sorted(ids, key=rank.__getitem__))


def _serve(
    place: int, places: Sequence[str], offers: Mapping[str, Sequence[str]], taken: dict[str, int]
) -> bool:
    """Find a connector for a place, along a path of places that can pass theirs on."""
    came_from: dict[str, tuple[int, str | None]] = {}
    waiting: list[tuple[int, str | None]] = [(place, None)]
    while waiting:
        at, through = waiting.pop(0)
        for id in offers[places[at]]:
            if id in came_from:
                continue
            came_from[id] = (at, through)
            if id not in taken:
                _hand_on(id, came_from, taken)
                return True
            waiting.append((taken[id], id))
    return False


def _hand_on(
    id: str, came_from: Mapping[str, tuple[int, str | None]], taken: dict[str, int]
) -> None:
    """Give each place on the path the connector found for it."""
    step: str | None = id
    while step is not None:
        place, through = came_from[step]
        taken[step] = place
        step = through

"""What two stations recorded against each other while they worked apart.

Each event names the latest events of its connector that its recorder knew (`after`), so the
history of a connector is a graph in which "recorded apart" can be told exactly.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from stampreader.register.events import Event, Kind

Known = dict[str, frozenset[str]]
"""For each event its own id and the ids of all events its recorder knew of."""

_IN_USE = frozenset(
    {Kind.PUT_IN_SERVICE, Kind.INSPECTED, Kind.RELEASED, Kind.FOUND, Kind.LOST, Kind.MOVED}
)
_CLASHES: dict[Kind, frozenset[Kind]] = {
    Kind.RETIRED: _IN_USE,
    Kind.WITHDRAWN: _IN_USE | {Kind.RETIRED, Kind.QUARANTINED, Kind.CORRECTED},
    Kind.QUARANTINED: frozenset({Kind.RELEASED}),
    Kind.LOST: frozenset({Kind.INSPECTED, Kind.MOVED, Kind.PUT_IN_SERVICE, Kind.RELEASED}),
}


def known_by(ordered: Sequence[Event]) -> Known:
    """What the recorder of each event knew of.

    Args:
        ordered: all events of one connector in their common order.
    """
    known: Known = {}
    for event in ordered:
        before = (known.get(parent, frozenset({parent})) for parent in event.after)
        known[event.id] = frozenset({event.id}).union(*before)
    return known


def heads(events: Sequence[Event]) -> tuple[str, ...]:
    """Ids of the events that no other event follows: what a new event comes after."""
    followed = {parent for event in events for parent in event.after}
    return tuple(sorted(e.id for e in events if e.id not in followed))


def in_line(ordered: Sequence[Event]) -> bool:
    """Whether each event was recorded knowing the one before: nothing was done apart."""
    return all(later.after == (earlier.id,) for earlier, later in pairwise(ordered))


def find_conflicts(ordered: Sequence[Event]) -> tuple[str, ...]:
    """What a person must settle, in words; the same whichever register was merged into which."""
    if in_line(ordered):
        return ()
    known = known_by(ordered)
    found = []
    for index, second in enumerate(ordered):
        for first in ordered[:index]:
            if first.id in known[second.id]:
                continue
            text = clash(first, second)
            if text is not None and not _is_settled(first, second, ordered, known):
                found.append(text)
    return tuple(dict.fromkeys(found))


def _is_settled(first: Event, second: Event, ordered: Sequence[Event], known: Known) -> bool:
    both = {first.id, second.id}
    for event in ordered:
        if event.kind is Kind.SETTLED and both <= known[event.id]:
            return True
        if event.kind is Kind.CORRECTED and first.kind is second.kind is Kind.CORRECTED:
            fields = set(_fields(event))
            if set(_differing(first, second)) <= fields and both < known[event.id]:
                return True
    return False


def clash(first: Event, second: Event) -> str | None:
    """What a person must settle between two events recorded apart, or `None`."""
    for one, other in ((first, second), (second, first)):
        if other.kind in _CLASHES.get(one.kind, ()):
            return (
                f"{first.kind} by {first.who} on {first.happened_on} and {second.kind} by "
                f"{second.who} on {second.happened_on}, each not knowing of the other"
            )
    if first.kind is second.kind is Kind.CORRECTED:
        for name in _differing(first, second):
            return (
                f"{name} corrected to {_said(_fields(first)[name])} by {first.who} and to "
                f"{_said(_fields(second)[name])} by {second.who}"
            )
    return None


def _fields(event: Event) -> dict[str, Any]:
    return dict(event.body.get("fields", {}))


def _differing(first: Event, second: Event) -> list[str]:
    ours, theirs = _fields(first), _fields(second)
    return [name for name in sorted(set(ours) & set(theirs)) if ours[name] != theirs[name]]


def _said(value: Any) -> str:
    if isinstance(value, list | tuple):
        return ", ".join(str(v) for v in value) or "nothing"
    return str(value) if value not in (None, "") else "nothing"

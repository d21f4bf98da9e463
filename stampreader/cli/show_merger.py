"""A merger and its conflicts on the screen and as JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from stampreader.register import Conflict, Merger, in_words


def merger_lines(merger: Merger, *, rehearsed: bool) -> Iterator[str]:
    """What a merger brought, then everything a person must settle."""
    did = "would be taken over" if rehearsed else "taken over"
    if not merger.events and not merger.pictures:
        yield "Nothing is new: this register holds all of it."
    else:
        yield (
            f"{_count(merger.events, 'event')} {did}, {_count(merger.pictures, 'evidence picture')}"
        )
    if merger.entered:
        yield f"  new here: {in_words(merger.entered)}"
    if merger.changed:
        yield f"  with news: {in_words(merger.changed)}"
    if merger.arrivals:
        yield (
            f"  {_count(merger.arrivals, 'arrival')} no longer waiting: the other station has "
            "registered them"
        )
    yield from conflict_lines(merger.conflicts)


def conflict_lines(conflicts: Sequence[Conflict]) -> Iterator[str]:
    """Conflicts with what to do; nothing without any."""
    if conflicts:
        yield f"{_count(len(conflicts), 'conflict')} to be settled by a person:"
    for conflict in conflicts:
        yield f"  {' / '.join(dict.fromkeys(conflict.ids))}: {conflict.text}"
        yield f"    {conflict.remedy}"


def merger_json(merger: Merger, *, rehearsed: bool) -> dict[str, Any]:
    """A merger as a JSON object."""
    return {
        "stored": not rehearsed,
        "events": merger.events,
        "stations": list(merger.stations),
        "entered": list(merger.entered),
        "changed": list(merger.changed),
        "pictures": merger.pictures,
        "arrivals": merger.arrivals,
        "conflicts": [
            {**conflict_json(conflict), "fresh": conflict in merger.fresh}
            for conflict in merger.conflicts
        ],
    }


def conflict_json(conflict: Conflict) -> dict[str, Any]:
    """A conflict as a JSON object."""
    return {
        "ids": list(conflict.ids),
        "uids": list(conflict.uids),
        "conflict": conflict.text,
        "remedy": conflict.remedy,
    }


def _count(number: int, what: str) -> str:
    return f"1 {what}" if number == 1 else f"{number} {what}s"

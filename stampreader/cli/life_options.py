"""Options and words that the commands of a connector's life share."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from stampreader.register import Connector, Event, Filter, Intervals

IdsArgument = Annotated[
    list[str] | None, typer.Argument(metavar="ID...", help="Ids of connectors.")
]
InPlaceOption = Annotated[
    str, typer.Option("--place", metavar="KIT", help="All that lie in this kit or store.")
]
OfDeliveryOption = Annotated[
    str, typer.Option("--delivery", metavar="NAME", help="All of this delivery.")
]
OnOption = Annotated[
    str | None,
    typer.Option("--on", metavar="DAY", help="Day it happened, such as 2025-03-01; else today."),
]
WhyOption = Annotated[str, typer.Option("--why", metavar="REASON", help="Why, for the history.")]
MaybeWhyOption = Annotated[
    str, typer.Option("--why", metavar="REASON", help="Why, for the history, if it matters.")
]
IntoOption = Annotated[
    str, typer.Option("--to", metavar="KIT", help="Kit or store they are put into.")
]


def shelf_filter(place: str, delivery: str) -> Filter:
    """All of a kit, of a delivery, or both; nothing if neither is given."""
    from stampreader.register import Filter
    from stampreader.register.connectors import ANY

    return Filter(place=place, delivery=delivery) if place or delivery else ANY


def typed_day(on: str | None) -> str | None:
    """The day as typed, in the stored form."""
    from stampreader.register import clean_day

    return None if on is None else clean_day(on)


def step_json(
    connectors: Sequence[Connector], events: Sequence[Event], intervals: Intervals
) -> Iterator[dict[str, Any]]:
    """One object for each event: what was recorded, and how the connector stands now."""
    from stampreader.register import next_due

    now = {connector.uid: connector for connector in connectors}
    for event in events:
        connector = now[str(event.connector)]
        yield {
            "id": connector.id,
            "event": event.id,
            "kind": str(event.kind),
            "happened_on": event.happened_on,
            "who": event.who,
            **{k: v for k, v in event.body.items() if isinstance(v, str)},
            "state": str(connector.life),
            "place": connector.place or None,
            "due_on": next_due(connector, intervals),
        }


def step_lines(said: str, connectors: Sequence[Connector]) -> Iterator[str]:
    """What was done with whom, and who of them needs a second look."""
    from stampreader.register import in_words

    yield f"{in_words([c.id for c in connectors])}: {said}"
    yield from remark_lines(connectors)


def remark_lines(connectors: Sequence[Connector]) -> Iterator[str]:
    """What is to be told of connectors, each remark once with the ids it is about."""
    from stampreader.cli.fitness import remarks_of
    from stampreader.register import in_words

    flagged: dict[str, list[str]] = {}
    for connector in connectors:
        for remark in remarks_of(connector):
            flagged.setdefault(remark, []).append(connector.id)
    for remark, ids in flagged.items():
        yield f"  ! {remark}: {in_words(ids)}"

"""One step with one or many connectors: choose, record, show."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import typer

from stampreader.cli.common import emit_json, now, register_path
from stampreader.cli.life_options import shelf_filter, step_json, step_lines, typed_day
from stampreader.cli.person import who_decides
from stampreader.register import (
    Connector,
    Event,
    Kind,
    Register,
    choose,
    open_register,
    read_intervals,
    read_settings,
)
from stampreader.register.life import present_state

Record = Callable[..., list[Event]]


@dataclass(frozen=True, slots=True)
class Chosen:
    """Which connectors a command is about, as typed."""

    ids: Sequence[str]
    place: str = ""
    delivery: str = ""

    def of(self, book: Register, *kinds: Kind) -> list[Connector]:
        """The connectors, as `choose` finds them."""
        which = shelf_filter(self.place, self.delivery)
        return choose(book, self.ids, kinds, which)


@dataclass(frozen=True, slots=True)
class Told:
    """By whom and when, as typed, and how to show what was done."""

    said: str
    who: str | None
    on: str | None
    register: Path | None
    as_json: bool


def record_step(chosen: Chosen, kind: Kind, record: Record, told: Told, **given: Any) -> None:
    """Take one step with the chosen connectors, all or none, and show how they stand now.

    Args:
        chosen: which.
        kind: what happens to them.
        record: the register's function for it.
        told: by whom, when, and how to show it.
        given: what else the function takes.
    """
    day = typed_day(told.on)
    with open_register(register_path(told.register)) as book:
        person = who_decides(told.who, read_settings(book))
        with book.writing():
            connectors = chosen.of(book, kind)
            events = record(book, connectors, who=person, at=now(), on=day, **given)
        show_steps(book, events, told.said, as_json=told.as_json)


def show_steps(book: Register, events: Sequence[Event], said: str, *, as_json: bool) -> None:
    """What was recorded, and how the connectors stand now."""
    after = present_state(book, events)
    if as_json:
        emit_json(step_json(after, events, read_intervals(book)))
    else:
        typer.echo("\n".join(step_lines(said, after)))

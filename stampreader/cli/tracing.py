"""The work of `trace`: what a notice names, what was found, and setting it apart."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import typer

from stampreader.cli.common import emit_json, now, register_path, say
from stampreader.cli.fitness import remarks_of
from stampreader.cli.life_options import typed_day
from stampreader.cli.person import who_decides
from stampreader.cli.show_rig import in_columns
from stampreader.errors import UsageError
from stampreader.register import (
    Connector,
    Match,
    Traced,
    Wanted,
    find_connector,
    open_register,
    parse_made,
    parse_spans,
    quarantine_traced,
    read_settings,
    trace,
)

HEADS = ("place", "id", "state", "connector", "batch", "serial", "made", "remarks")


@dataclass(frozen=True, slots=True)
class Notice:
    """What to record with a quarantine, as typed."""

    reference: str
    why: str
    on: str | None
    who: str | None
    doubtful: bool | None


def typed_wanted(
    *, maker: str, model: str, delivery: str, batch: str, serial: str, made: str
) -> Wanted:
    """What a notice names, as typed.

    Raises:
        UsageError: a range or year that cannot be one.
    """
    texts = {
        name: " ".join(text.split())
        for name, text in (("maker", maker), ("model", model), ("delivery", delivery))
    }
    return Wanted(
        **texts,
        batches=parse_spans(batch),
        serials=parse_spans(serial),
        made=parse_made(made) if made.strip() else None,
    )


def show_trace(register: Path | None, wanted: Wanted, *, as_json: bool) -> None:
    """List what a notice speaks of, and what cannot be ruled out."""
    with open_register(register_path(register)) as book:
        traced = trace(book, wanted)
    if as_json:
        emit_json(_found_json(traced))
        return
    if not traced.certain and not traced.doubtful:
        say("No connector of the register is one of them.")
        return
    typer.echo("\n".join(_found_lines(traced)))


def _found_json(traced: Traced) -> Iterator[dict[str, Any]]:
    for match, connectors in (
        (Match.CERTAIN, traced.certain),
        (Match.DOUBTFUL, traced.doubtful),
    ):
        for connector in connectors:
            yield _json(connector, certain=match is Match.CERTAIN)


def _json(connector: Connector, **more: Any) -> dict[str, Any]:
    named = ("id", "place", "maker", "model", "batch", "serial", "made_on", "delivery")
    return {
        **{name: getattr(connector, name) or None for name in named},
        "state": str(connector.life),
        **more,
        "remarks": list(remarks_of(connector)),
    }


def _found_lines(traced: Traced) -> Iterator[str]:
    count = len(traced.certain)
    yield f"{count} connector{'' if count == 1 else 's'} the notice speaks of"
    if traced.certain:
        yield from in_columns(HEADS, [_row(connector) for connector in traced.certain])
    if traced.doubtful:
        more = "the first " if traced.more else ""
        yield ""
        yield f"{more}{len(traced.doubtful)} that cannot be ruled out: something is not recorded"
        yield from in_columns(HEADS, [_row(connector) for connector in traced.doubtful])


def _row(connector: Connector) -> Sequence[str]:
    return (
        connector.place or "no place recorded",
        connector.id,
        str(connector.life),
        " ".join(filter(None, (connector.maker or "?", connector.model or "?"))),
        connector.batch or "?",
        connector.serial or "?",
        connector.made_on or "?",
        "; ".join(remarks_of(connector)),
    )


def quarantine_all(register: Path | None, wanted: Wanted, notice: Notice, *, as_json: bool) -> None:
    """Set apart everything a notice speaks of, in one transaction, and tell where each is."""
    if not notice.reference.strip():
        raise UsageError(
            "no reference is given", remedy="Give the notice's number with --reference."
        )
    day = typed_day(notice.on)
    with open_register(register_path(register)) as book:
        person = who_decides(notice.who, read_settings(book))
        stopped = quarantine_traced(
            book, wanted, notice.reference, who=person, at=now(), reason=notice.why, on=day,
            doubtful=notice.doubtful,
        )  # fmt: skip
        groups = [
            ("quarantined", stopped.quarantined),
            ("quarantined under it before", stopped.before),
            ("lost; the notice stands in its note", stopped.lost),
            ("retired before", stopped.retired),
        ]
        shown = [(said, [find_connector(book, c.uid) for c in group]) for said, group in groups]
    if as_json:
        emit_json(_json(c, done=said) for said, group in shown for c in group)
        return
    typer.echo("\n".join(_stopped_lines(shown)))


def _stopped_lines(shown: Sequence[tuple[str, Sequence[Connector]]]) -> Iterator[str]:
    if not any(group for _, group in shown):
        yield "No connector of the register is one of them; nothing was recorded."
    for said, group in shown:
        for connector in group:
            where = connector.place or "no place recorded"
            yield f"{connector.id}  {where}: {said}"

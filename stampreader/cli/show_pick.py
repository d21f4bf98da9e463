"""Picked connectors on the screen: the kit, what else qualifies, what does not and why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import typer

from stampreader.cli.common import emit_json, say, show_caution
from stampreader.cli.fitness import remarks_of
from stampreader.cli.picking import Answer, Picked, asked_of
from stampreader.cli.show_connectors import figures_of
from stampreader.cli.show_rig import in_columns
from stampreader.margin import ConnectorMargin, Verdict
from stampreader.register import Connector, next_due


def show_pick(picked: Picked, *, as_json: bool) -> None:
    """Print everything that was asked."""
    if as_json:
        emit_json(row for answer in picked.answers for row in _answer_json(answer, picked))
        return
    for line in _lines(picked):
        typer.echo(line)
    if picked.own_rules:
        say(f"With the team's rules in {picked.own_rules}.")
    if picked.planned.load is not None:
        typer.echo("")
        show_caution()


def _answer_json(answer: Answer, picked: Picked) -> Iterator[dict[str, Any]]:
    chosen = set(picked.drawn.chosen.get(answer.use.name, ()))
    for connector in answer.fit:
        yield _json(answer, connector, picked, (), connector.id in chosen)
    for connector, reasons in answer.unfit:
        yield _json(answer, connector, picked, reasons, False)


def _json(
    answer: Answer, connector: Connector, picked: Picked, reasons: Sequence[str], drawn: bool
) -> dict[str, Any]:
    margin = picked.planned.margin(connector)
    return {
        "use": answer.use.name,
        "id": connector.id,
        "qualifies": not reasons,
        "reasons": list(reasons),
        "in_kit": drawn,
        "place": connector.place or None,
        "figures": {slot: getattr(connector, f"{slot}_kN") for slot in ("closed", "cross", "open")},
        "margins": None if margin is None else {row.slot: row.margin for row in margin.slots},
        "due_on": next_due(connector, picked.intervals),
        "remarks": list(remarks_of(connector)),
    }


def _lines(picked: Picked) -> Iterator[str]:
    planned = picked.planned
    if planned.load is not None:
        yield f"Planned load {planned.load}, ratio {planned.ratio}:1; margins are cut off."
        yield ""
    if picked.needs:
        yield typer.style("Kit", bold=True)
        rows = [(use.name, *_row(connector, picked)) for use, connector in picked.kit()]
        yield from in_columns(("for", *_heads(picked)), rows)
        for use, count in picked.drawn.missing.items():
            yield typer.style(f"{count} more wanted for {use}", fg="yellow", bold=True)
        yield ""
    for answer in picked.answers:
        yield from _answer_lines(answer, picked)


def _answer_lines(answer: Answer, picked: Picked) -> Iterator[str]:
    use = answer.use
    drawn = {connector.id for _, connector in picked.kit()}
    others = [connector for connector in answer.fit if connector.id not in drawn]
    yield typer.style(f"{use.name}: {use.title}", bold=True)
    yield f"asks: {asked_of(use)}"
    more = "the first " if answer.more_fit else ""
    yield f"{more}{len(others)} {'more ' if drawn else ''}qualify"
    if others:
        yield from in_columns(_heads(picked), [_row(c, picked) for c in others])
    yield f"{len(answer.unfit)} do not qualify" + (
        "" if answer.looked_at_all else " among the first looked at; --limit 0 looks at all"
    )
    if answer.unfit:
        rows = [(c.id, c.place, "; ".join(reasons)) for c, reasons in answer.unfit]
        yield from in_columns(("id", "place", "why not"), rows)
    yield ""


def _heads(picked: Picked) -> Sequence[str]:
    margins = () if picked.planned.load is None else ("margin c/x/o", "keeps the ratio")
    return ("id", "figures", *margins, "connector", "gate", "place", "next due", "remarks")


def _row(connector: Connector, picked: Picked) -> Sequence[str]:
    margin = picked.planned.margin(connector)
    due_on = next_due(connector, picked.intervals)
    return (
        connector.id,
        figures_of(connector),
        *((margins_text(margin), verdict_text(margin)) if margin is not None else ()),
        " ".join(filter(None, (connector.maker, connector.model))),
        connector.gate,
        connector.place,
        due_on.isoformat() if due_on else "",
        "; ".join(remarks_of(connector)),
    )


def margins_text(margin: ConnectorMargin) -> str:
    """The margins of the three directions, `?` where the figure is unknown."""
    return "/".join("?" if row.margin is None else str(row.margin) for row in margin.slots)


def verdict_text(margin: ConnectorMargin) -> str:
    """In which directions the ratio is kept, in words.

    Example: `closed only`, `closed, cross, open`.
    """
    kept = [str(row.slot) for row in margin.slots if row.verdict is Verdict.ALLOWED]
    if not kept:
        return "in none"
    return f"{kept[0]} only" if len(kept) == 1 else ", ".join(kept)

"""Asking about the points of an inspection, one by one, at a terminal."""

from __future__ import annotations

from collections.abc import Sequence

import typer

from stampreader.cli.show_connectors import figures_of
from stampreader.fit import CheckPoint
from stampreader.register import Connector, Result

_ANSWERS = {
    "p": Result.PASS,
    "pass": Result.PASS,
    "f": Result.FAIL,
    "fail": Result.FAIL,
    "n": Result.NOT_APPLICABLE,
    "na": Result.NOT_APPLICABLE,
}
HOW = "p pass, f fail, n not applicable, each with a note behind it; b back, q stop"


def ask_points(connector: Connector, points: Sequence[CheckPoint]) -> dict[str, tuple[Result, str]]:
    """Ask about each point; a point has no answer unless the person gives one.

    Raises:
        Abort: the person stopped; nothing is recorded.
    """
    name = " ".join(filter(None, (connector.maker, connector.model)))
    typer.echo(f"{connector.id}  {figures_of(connector)}  {name}".rstrip())
    typer.echo(f"  ({HOW})")
    given: dict[str, tuple[Result, str]] = {}
    at = 0
    while at < len(points):
        answer = _ask(points[at])
        if answer == "b":
            at = max(0, at - 1)
        elif answer == "q":
            typer.echo("Stopped; nothing of this inspection was recorded.")
            raise typer.Abort
        else:
            word, _, note = answer.partition(" ")
            given[points[at].key] = (_ANSWERS[word], note.strip())
            at += 1
    return given


def _ask(point: CheckPoint) -> str:
    """One answer that is understood: its first word in small letters, the note as typed."""
    while True:
        try:
            typed = input(f"  {point.text} ({point.words})? ").strip()
        except EOFError:
            raise typer.Abort from None
        word, _, note = typed.partition(" ")
        if word.lower() in _ANSWERS or (word.lower() in ("b", "q") and not note):
            return f"{word.lower()} {note}".strip()
        typer.echo(f"  {HOW}")

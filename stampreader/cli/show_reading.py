"""Readings on the screen: a block of lines a photo, or JSON Lines."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any

import typer

from stampreader.cli.common import emit_json, show_caution
from stampreader.words import SLOTS, Figure, Reading, Slot, Stamp, State

if TYPE_CHECKING:
    from stampreader.reading import Attempt

COLOURS = {State.SURE: "blue", State.ASK: "yellow", State.NONE: "bright_black"}
INDENT = "  "


def show_attempts(attempts: Iterable[Attempt | dict[str, Any]], *, as_json: bool) -> int:
    """Print each attempt, or earlier line, as it comes; how many failed is given back."""
    failed = 0
    shown = 0
    for attempt in attempts:
        if isinstance(attempt, dict):
            emit_json([attempt])
            continue
        failed += attempt.failure is not None
        shown += 1
        if as_json:
            emit_json([attempt_line(attempt)])
        else:
            typer.echo("\n".join(attempt_block(attempt)) + "\n")
    if shown > failed and not as_json:
        show_caution()
    return failed


def attempt_line(attempt: Attempt) -> dict[str, Any]:
    """One attempt as its JSON object: a reading, or the photo with its error."""
    from stampreader.reading import as_line

    if attempt.reading is not None:
        return as_line(attempt.reading)
    assert attempt.failure is not None
    return {
        "photo": attempt.path,
        "error": attempt.failure.message,
        "kind": attempt.failure.kind,
    }


def attempt_block(attempt: Attempt) -> Iterator[str]:
    """One attempt as lines of text."""
    from stampreader.photo import printable

    if attempt.reading is None:
        assert attempt.failure is not None
        yield (
            typer.style(printable(attempt.path), bold=True) + "  " + _state_word("not read", "red")
        )
        yield INDENT + attempt.failure.message
        return
    reading = attempt.reading
    yield typer.style(printable(attempt.path), bold=True) + "  " + _outcome(reading.outcome)
    for number, stamp in enumerate(reading.stamps, 1):
        if len(reading.stamps) > 1:
            yield f"{INDENT}connector {number}  {_outcome(stamp.outcome)}"
        yield from _stamp_lines(stamp)
    yield from _about(reading)


def _stamp_lines(stamp: Stamp) -> Iterator[str]:
    for slot in SLOTS:
        yield INDENT + _figure_line(slot, stamp.figure(slot))
    if stamp.marks:
        yield f"{INDENT}marks   {', '.join(mark.text for mark in stamp.marks)}"
    if stamp.serial:
        yield f"{INDENT}serial  {stamp.serial}"
    for note in (*_demands(stamp), *stamp.notes):
        yield INDENT + note


def _figure_line(slot: Slot, figure: Figure) -> str:
    """`closed     27 kN  ask   only one reader saw it`."""
    value = f"{figure.kN} kN" if figure.kN is not None else "-"
    seen = figure.kN is not None or figure.doubts
    state = _outcome(figure.state, 4) if seen else typer.style("none", fg=COLOURS[State.NONE])
    why = "; ".join(doubt.value for doubt in figure.doubts)
    return f"{slot.value:<6}  {value:>8}  {state}  {why}".rstrip()


def _demands(stamp: Stamp) -> Iterator[str]:
    """What the claimed standards demand, and what falls short."""
    from stampreader.reading import demands

    yield from demands(stamp)


def _about(reading: Reading) -> Iterator[str]:
    if reading.labels:
        from stampreader.photo import printable

        yield f"{INDENT}label   {', '.join(printable(label) for label in reading.labels)}"
    for note in reading.notes:
        yield INDENT + note


def _outcome(state: State, width: int = 0) -> str:
    return _state_word(f"{state.value:<{width}}", COLOURS[state])


def _state_word(word: str, colour: str) -> str:
    return typer.style(word, fg=colour, bold=True)

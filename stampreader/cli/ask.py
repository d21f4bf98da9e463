"""The real prompt: asks about the arrivals that wait, one question after the other.

Every decision is stored and flushed to the disk before it is acknowledged on the screen.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import typer

from stampreader.cli.answers import Help, Look, understand
from stampreader.cli.deliveries import confirmed_entries
from stampreader.cli.evidence import show_evidence
from stampreader.cli.show_question import help_lines, question_lines
from stampreader.confirm import (
    Answer,
    Bench,
    Decision,
    Effect,
    Order,
    Question,
    answered,
    questions,
)
from stampreader.errors import RefusedStep, UsageError
from stampreader.register import (
    Register,
    RegisterBusy,
    confirm_arrivals,
    in_words,
    order_of,
    read_settings,
    set_aside,
    undo_last,
    waiting,
)

PROMPT = "> "


@dataclass(frozen=True, slots=True)
class Desk:
    """Where and in whose name is asked.

    Attributes:
        register: the register.
        delivery: the delivery asked about.
        who: the person who decides.
        clock: gives the present time.
        folder: where evidence pictures are written for looking at.
    """

    register: Register
    delivery: str
    who: str
    clock: Callable[[], datetime]
    folder: Path


def can_ask() -> bool:
    """Whether a person sits at a terminal."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def ask_all(register: Register, delivery: str, who: str, clock: Callable[[], datetime]) -> bool:
    """Ask until nothing is left to ask; false if the person stopped before."""
    with tempfile.TemporaryDirectory(prefix="stampreader-") as folder:
        desk = Desk(register, delivery, who, clock, Path(folder))
        bench = new_bench(register, delivery)
        while True:
            bench = bench.with_arrivals(
                waiting(register, delivery), confirmed_entries(register, delivery)
            )
            asked = questions(bench)
            if not asked:
                return True
            typer.echo("\n".join(question_lines(asked[0], len(bench.arrivals))))
            bench, stopped = _one_answer(desk, bench, asked[0])
            if stopped:
                return False


def new_bench(register: Register, delivery: str) -> Bench:
    """An empty bench that knows what was ordered and the team's settings."""
    lines = order_of(register, delivery)
    return Bench(
        arrivals=(),
        orders=tuple(Order.from_json(line) for line in lines),
        ask_below=read_settings(register).ask_below,
    )


def _one_answer(desk: Desk, bench: Bench, question: Question) -> tuple[Bench, bool]:
    """Read lines until one is an answer that could be carried out."""
    while True:
        try:
            typed = understand(_read_line(), question)
            if isinstance(typed, Help):
                typer.echo("\n".join(help_lines(question)))
            elif isinstance(typed, Look):
                show_evidence(desk.register, question.members, typed.member, desk.folder)
            else:
                after, effect = answered(bench, question, typed)
                typer.echo(carry_out(desk, effect) or _noted(typed))
                return after, effect.stop
        except UsageError as error:
            typer.echo(f"  {error.line()} Type ? for the keys.")
        except (RefusedStep, RegisterBusy) as error:
            typer.echo(f"  {error.line()}")
            return bench, False


def _read_line() -> str:
    """One line typed; the end of input stops."""
    try:
        return input(PROMPT)
    except EOFError:
        return "q"


def carry_out(desk: Desk, effect: Effect) -> str:
    """Store what an answer decided; gives the sentence that acknowledges it."""
    register, who, at = desk.register, desk.who, desk.clock()
    if effect.confirm:
        events = confirm_arrivals(register, effect.confirm, who=who, at=at)
        ids = [str(event.body["fields"]["id"]) for event in events]
        return f"  confirmed: {in_words(ids)}"
    if effect.set_aside:
        set_aside(register, effect.set_aside, reason=effect.reason, who=who, at=at)
        return f"  set aside: {len(effect.set_aside)}"
    if effect.undo:
        undone = undo_last(register, desk.delivery, who=who, at=at)
        if undone is None:
            return "  there is nothing to undo"
        return f"  undone: {undone.words}; asked again"
    return ""


def _noted(answer: Answer) -> str:
    return {
        Decision.TAKE_OUT: "  taken out; asked about one by one",
        Decision.CORRECT: "  noted; confirm it with y",
        Decision.SKIP: "  skipped; it waits",
        Decision.UNDO: "  undone",
        Decision.STOP: "  stopped; what was confirmed is stored",
    }.get(answer.decision, "")

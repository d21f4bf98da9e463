"""Lessons on the screen: plain text with a table of minima, or JSON Lines."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from stampreader.standards import SOURCES, Confidence, Demand, Lesson, Row
from stampreader.words import Slot

WIDEST = 100
NARROWEST = 80
"""A table is never squeezed below this: a narrow screen wraps its lines, but cuts no figure."""
COLUMNS: tuple[tuple[str, Slot | None], ...] = (
    ("closed", Slot.CLOSED),
    ("cross", Slot.CROSS),
    ("open", Slot.OPEN),
    ("gate itself", None),
)
TRUST = {Confidence.SEVERAL: "2+ sources", Confidence.ONE: "1 source", Confidence.MEMORY: "memory"}
NOTE = (
    "Minima come from published summaries, not from the paid standards: read the standard before "
    "you rely on one. They hold for new connectors and are no loads to hang on them."
)


def show_lessons(lessons: Iterable[Lesson]) -> None:
    """Print lessons one after the other."""
    console = _console()
    for lesson in lessons:
        console.print(Text(lesson.title, style="bold"))
        for paragraph in lesson.text:
            drawn = "\n" in paragraph
            console.print(Text(paragraph, no_wrap=drawn), soft_wrap=drawn)
            console.print()
        if lesson.rows:
            _show_minima(console, lesson.rows)
        for key in lesson.sources:
            console.print(_indented(f"Source: {SOURCES[key]}.", "dim"))
        console.print()
    console.print(Text(NOTE))


def _indented(text: str, style: str = "") -> Padding:
    """A line set in, also where it wraps."""
    return Padding(Text(text, style=style), (0, 0, 0, 2))


def lesson_row(lesson: Lesson) -> dict[str, Any]:
    """One lesson as its JSON object."""
    return {
        "title": lesson.title,
        "names": lesson.names,
        "text": lesson.text,
        "minima": [_minima(row) for row in lesson.rows],
        "sources": [SOURCES[key] for key in lesson.sources],
        "note": NOTE,
    }


def _console() -> Console:
    """Standard output, at most `WIDEST` wide so that text stays readable."""
    console = Console(highlight=False)
    if console.width > WIDEST:
        console.width = WIDEST
    return console


def _minima(row: Row) -> dict[str, Any]:
    """The demands of one class as JSON."""
    return {
        "standard": row.standard,
        "class": row.letter or None,
        "name": row.name,
        "edition": row.edition,
        "demands": [
            {
                "slot": demand.slot.value if demand.slot else "gate",
                "kN": demand.kN,
                "lbf": demand.lbf,
                "verdict": not demand.doubt and demand.confidence is not Confidence.MEMORY,
                "self_locking_exempt": demand.auto_exempt,
                "doubt": demand.doubt or None,
                "confidence": demand.confidence.value,
                "source": SOURCES[demand.source],
            }
            for demand in row.demands
        ],
    }


def _show_minima(console: Console, rows: Sequence[Row]) -> None:
    """The minima of some classes as a table, with the notes its signs stand for."""
    used = {demand.slot for row in rows for demand in row.demands}
    columns = [(title, slot) for title, slot in COLUMNS if slot in used]
    several = len({row.standard for row in rows}) > 1
    table = Table(box=SIMPLE_HEAD, title="Least strength in kN", title_justify="left")
    table.add_column("standard" if several else "class", no_wrap=True)
    table.add_column("name", overflow="fold")
    for title, _ in columns:
        table.add_column(title, no_wrap=True)
    table.add_column("from", no_wrap=True)
    for row in rows:
        cells = [_cell(row.demands, slot) for _, slot in columns]
        head = row.standard if several else row.letter or "-"
        table.add_row(head, row.name, *cells, _trust(row.demands))
    width = console.width
    console.width = max(width, NARROWEST)
    console.print(table)
    console.width = width
    for note in _notes(rows):
        console.print(_indented(note))


def _cell(demands: Iterable[Demand], slot: Slot | None) -> str:
    """The minima of one direction with their signs, one a line; a dash for none."""
    shown = [_figure(demand) for demand in demands if demand.slot is slot]
    return "\n".join(shown) or "-"


def _figure(demand: Demand) -> str:
    """A minimum with its pound-force pair and the signs of its notes."""
    pair = f"\n({demand.lbf:,} lbf)" if demand.lbf else ""
    signs = "*" if demand.confidence is Confidence.MEMORY else ""
    signs += "a" if demand.auto_exempt else ""
    signs += "?" if demand.doubt else ""
    return f"{demand.kN}{signs}{pair}"


def _trust(demands: Sequence[Demand]) -> str:
    """How well the least sourced figure of a class is sourced, those from memory apart."""
    order = list(Confidence)
    found = sorted((demand.confidence for demand in demands), key=order.index)
    sourced = [confidence for confidence in found if confidence is not Confidence.MEMORY]
    return TRUST[(sourced or found)[-1]] if found else "-"


def _notes(rows: Sequence[Row]) -> list[str]:
    """What the signs in the table mean, those that occur in it."""
    demands = [demand for row in rows for demand in row.demands]
    notes = []
    if any(demand.confidence is Confidence.MEMORY for demand in demands):
        notes.append("* from memory, no source seen: advises, never judges.")
    if any(demand.auto_exempt for demand in demands):
        notes.append("a  no such minimum if the gate locks by itself.")
    for doubt in dict.fromkeys(demand.doubt for demand in demands if demand.doubt):
        notes.append(f"? no verdict: {doubt}.")
    return notes

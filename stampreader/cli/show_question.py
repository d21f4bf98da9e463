"""A question to the person as lines of text."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import PurePath

from stampreader.cli.answers import KEY_HELP, keys_line
from stampreader.confirm import Asked, Question
from stampreader.words import SLOTS, Arrival, Slot

INDENT = "  "
WIDTH = 76


def question_lines(question: Question, left: int) -> Iterator[str]:
    """The whole question: what it is about, what would be entered, doubts, keys.

    Args:
        question: the question.
        left: connectors that still wait, those of this question included.
    """
    yield ""
    yield f"{_headline(question)}  ({left} waiting)"
    yield from _entry_lines(question)
    for advice in question.advice:
        yield f"{INDENT}{'! ' if advice.short else ''}{advice.text}"
    for remark in question.remarks:
        yield INDENT + remark
    yield from _members(question.members)
    yield INDENT + keys_line(question)


def _headline(question: Question) -> str:
    count = len(question.members)
    if question.asked is Asked.GROUP:
        return f"{count} connectors agree, every figure sure:"
    label = question.members[0].label
    name = f"One connector ({label})" if label else "One connector"
    if question.asked is Asked.BY_HAND:
        return f"{name}: no figure could be read. Look at it and type what is stamped:"
    return f"{name}, please look at it:"


def _entry_lines(question: Question) -> Iterator[str]:
    for slot in SLOTS:
        yield INDENT + _figure_line(question, slot)
    entry = question.entry
    yield f"{INDENT}marks   {', '.join(entry.marks) or 'none read'}"
    if len(question.members) == 1 and entry.serial:
        yield f"{INDENT}serial  {entry.serial}"
    for name, value in (entry.fields or {}).items():
        yield f"{INDENT}{name:<7} {value}"


def _figure_line(question: Question, slot: Slot) -> str:
    """`closed     27 kN  ask   only one reader saw it`."""
    figure, value = question.entry.stamp.figure(slot), question.entry.kN(slot)
    shown = f"{value} kN" if value is not None else "unknown"
    if slot in question.entry.typed:
        read = "nothing" if figure.kN is None else f"{figure.kN} kN"
        told = "typed, as it was read" if figure.kN == value else f"typed; read was {read}"
        return f"{slot.value:<6}  {shown:>9}  {told}"
    state = figure.state.value if figure.kN is not None or figure.doubts else ""
    why = "; ".join(doubt.value for doubt in figure.doubts)
    return f"{slot.value:<6}  {shown:>9}  {state:<4}  {why}".rstrip()


def _members(members: tuple[Arrival, ...]) -> Iterator[str]:
    """Numbered photos, several on a line."""
    line = ""
    for number, arrival in enumerate(members, 1):
        item = f"{number} {photo_names(arrival)}"
        if line and len(line) + len(item) + 3 > WIDTH:
            yield INDENT + line
            line = ""
        line = f"{line}   {item}" if line else item
    yield INDENT + line


def photo_names(arrival: Arrival) -> str:
    """File names of an arrival's photos, and which connector of the photo is meant."""
    names = []
    for sighting in arrival.seen:
        name = "".join(c if c.isprintable() else "?" for c in PurePath(sighting.path).name)
        names.append(name if sighting.number == 0 else f"{name} (connector {sighting.number + 1})")
    return " + ".join(names)


def help_lines(question: Question) -> Iterator[str]:
    """The keys with what they do."""
    for key, (decision, meaning) in KEY_HELP.items():
        if decision is None or decision in question.may:
            yield f"{INDENT}{key:<23} {meaning}"

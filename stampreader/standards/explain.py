"""Finds what there is to learn about a mark, a letter or a word."""

from __future__ import annotations

import difflib
import re
from dataclasses import replace

from stampreader.errors import UsageError
from stampreader.standards.claim import read_claim
from stampreader.standards.lessons import LESSONS, Lesson
from stampreader.units import shortened

_FIGURES = re.compile(r"\d+([.,]\d+)?( ?KN)?(\s*[/ ]\s*\d+([.,]\d+)?( ?KN)?)*")
_NUMBERED = re.compile(r"(CE|UKCA)\s*\d+")


def explain(text: str = "") -> tuple[Lesson, ...]:
    """What there is to learn about a mark, a class letter or a word; everything for no text.

    A class letter behind a standard narrows the minima to that class; a letter alone gives that
    class of every standard that has it.

    Raises:
        UsageError: nothing is known about it; the nearest words are named.
    """
    asked = " ".join(text.upper().split())
    if not asked:
        return LESSONS
    by_name = tuple(lesson for lesson in LESSONS if asked in lesson.names)
    return _letter(asked) or _claimed(text) or by_name or _by_shape(asked) or _refuse(text)


def _letter(asked: str) -> tuple[Lesson, ...]:
    """A class letter alone: that class in every standard that has it."""
    letter = asked.removeprefix("CLASS ").removeprefix("TYPE ")
    if len(letter) != 1:
        return ()
    return tuple(
        narrowed for lesson in LESSONS if (narrowed := _narrow(lesson, letter)) is not None
    )


def _claimed(text: str) -> tuple[Lesson, ...]:
    """A mark that claims a standard, narrowed to its class if it names one that is known."""
    claim = read_claim(text)
    if claim is None:
        return ()
    for lesson in LESSONS:
        rows = tuple(row for row in lesson.rows if row.standard == claim.standard)
        if rows:
            found = replace(lesson, rows=rows)
            return ((claim.letter and _narrow(found, claim.letter)) or found,)
    return ()


def _narrow(lesson: Lesson, letter: str) -> Lesson | None:
    """A lesson with only the classes of one letter; `None` if it has none."""
    rows = tuple(row for row in lesson.rows if row.letter == letter)
    return replace(lesson, rows=rows) if rows else None


def _by_shape(asked: str) -> tuple[Lesson, ...]:
    """Figures such as `27/8/7`, and CE with its number."""
    numbered = _NUMBERED.fullmatch(asked)
    if numbered:
        return explain(numbered[1])
    return explain("FIGURES") if _FIGURES.fullmatch(asked) else ()


def _refuse(text: str) -> tuple[Lesson, ...]:
    """Say that nothing is known, with the nearest words there are."""
    names = [name for lesson in LESSONS for name in lesson.names]
    near = difflib.get_close_matches(text.upper(), names, 3, 0.5)
    usual = [lesson.names[0] for lesson in LESSONS]
    raise UsageError(
        f"nothing is known here about '{shortened(text)}'",
        remedy=f"Try {', '.join(near or usual)}; or `stampreader standards` for everything.",
    )

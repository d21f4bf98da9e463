"""What a person types at the prompt, understood. Nothing is shown or stored here."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from stampreader.cli.choosing import typed_marks
from stampreader.confirm import (
    Answer,
    Asked,
    Change,
    Decision,
    Question,
    parse_figure,
    parse_figures,
)
from stampreader.errors import UsageError
from stampreader.words import SLOTS, Slot

FIELDS = ("maker", "model", "serial", "batch", "made_on", "shape", "material", "gate", "note", "id")


@dataclass(frozen=True, slots=True)
class Look:
    """The person wants to see the evidence: of one member, or of all if `None`."""

    member: int | None = None


@dataclass(frozen=True, slots=True)
class Help:
    """The person wants the keys explained."""


Typed = Answer | Look | Help


def understand(line: str, question: Question) -> Typed:
    """What one line typed at the prompt means.

    Args:
        line: as typed.
        question: what was asked.

    Raises:
        UsageError: it is not understood, or makes no sense here.
    """
    text = line.strip()
    if text.count("/") == 2 and not text[:1].isalpha():
        return _figures(text, question)
    key, _, rest = text.partition(" ")
    meaning = _KEYS.get(key.lower())
    if meaning is None:
        raise UsageError(f"'{text}' is not one of the keys" if text else "nothing was typed")
    return meaning(rest.strip(), question)


def _confirm(rest: str, question: Question) -> Typed:
    _nothing_more(rest)
    return Answer(Decision.CONFIRM)


def _take_out(rest: str, question: Question) -> Typed:
    numbers = member_numbers(rest, len(question.members))
    keys = frozenset(question.members[number - 1].key for number in numbers)
    return Answer(Decision.TAKE_OUT, keys=keys)


def _figures(rest: str, question: Question) -> Typed:
    """`27/8/7` for all three, or `closed 26` for one."""
    word, _, value = rest.partition(" ")
    if word.lower() in {slot.value for slot in SLOTS}:
        figures = {Slot(word.lower()): parse_figure(value)}
    else:
        figures = dict(zip(SLOTS, parse_figures(rest), strict=True))
    return Answer(Decision.CORRECT, change=Change(figures=figures))


def _entry(rest: str, question: Question) -> Typed:
    """`maker=Felsnase; model=Oval; marks=CE 9123, EN 362/B`."""
    fields: dict[str, str] = {}
    marks: tuple[str, ...] | None = None
    for part in filter(None, (part.strip() for part in rest.split(";"))):
        name, sign, value = (piece.strip() for piece in part.partition("="))
        if not sign or name not in (*FIELDS, "marks"):
            raise UsageError(
                f"'{part}' is not understood",
                remedy=f"Write e maker=NAME; model=NAME … of {', '.join((*FIELDS, 'marks'))}.",
            )
        if name == "marks":
            marks = typed_marks(value)
        else:
            fields[name] = value
    if not fields and marks is None:
        raise UsageError("nothing to enter", remedy="Write e maker=NAME; model=NAME.")
    if "id" in fields and len(question.members) > 1:
        raise UsageError("one id cannot be given to several connectors")
    return Answer(Decision.CORRECT, change=Change(marks=marks, fields=fields))


def _look(rest: str, question: Question) -> Typed:
    if not rest:
        return Look()
    (number,) = member_numbers(rest, len(question.members), most=1)
    return Look(number)


def _skip(rest: str, question: Question) -> Typed:
    _nothing_more(rest)
    return Answer(Decision.SKIP)


def _set_aside(rest: str, question: Question) -> Typed:
    if len(question.members) > 1:
        raise UsageError(
            "setting a whole group aside needs a closer look",
            remedy="Take out those meant with t, then set each aside.",
        )
    return Answer(Decision.SET_ASIDE, reason=rest)


def _undo(rest: str, question: Question) -> Typed:
    _nothing_more(rest)
    return Answer(Decision.UNDO)


def _stop(rest: str, question: Question) -> Typed:
    _nothing_more(rest)
    return Answer(Decision.STOP)


def _help(rest: str, question: Question) -> Typed:
    return Help()


def _nothing_more(rest: str) -> None:
    if rest:
        raise UsageError(f"'{rest}' is too much here", remedy="Type the key alone.")


_KEYS: dict[str, Callable[[str, Question], Typed]] = {
    "y": _confirm,
    "t": _take_out,
    "f": _figures,
    "e": _entry,
    "v": _look,
    "s": _skip,
    "x": _set_aside,
    "u": _undo,
    "q": _stop,
    "?": _help,
}


def member_numbers(text: str, count: int, most: int | None = None) -> tuple[int, ...]:
    """Numbers of members as typed: `3`, `3 7`, `3-5`, `3,7`.

    Raises:
        UsageError: no numbers, or not those of members.
    """
    numbers: list[int] = []
    for part in re.split(r"[\s,]+", text.strip()):
        found = re.fullmatch(r"(\d{1,6})(?:-(\d{1,6}))?", part)
        first, last = (int(found[1]), int(found[2] or found[1])) if found else (0, 0)
        if not 1 <= first <= last <= count:
            raise UsageError(
                f"'{part}' is not a number from 1 to {count}" if part else "no number was given",
                remedy="Write numbers such as 3 7 or 3-5.",
            )
        numbers.extend(range(first, last + 1))
    if most is not None and len(numbers) > most:
        raise UsageError(f"only {most} number can be given here")
    return tuple(dict.fromkeys(numbers))


KEY_HELP: dict[str, tuple[Decision | None, str]] = {
    "y": (Decision.CONFIRM, "confirm: enter it as shown"),
    "t 3 7": (Decision.TAKE_OUT, "take these out of the group and ask about each by itself"),
    "f 27/8/7": (Decision.CORRECT, "correct the figures: closed/cross/open, - for not stamped"),
    "f open 7": (Decision.CORRECT, "correct one figure: closed, cross or open"),
    "e maker=NAME; batch=NO": (Decision.CORRECT, "enter other fields: " + ", ".join(FIELDS)),
    "v": (None, "see the evidence pictures of all; v 3 of number 3 only"),
    "s": (Decision.SKIP, "skip: leave it for later"),
    "x REASON": (Decision.SET_ASIDE, "set aside: not a connector, or a photo too many"),
    "u": (Decision.UNDO, "undo the latest answer"),
    "q": (Decision.STOP, "stop here; what was confirmed stays, go on with `stampreader confirm`"),
    "?": (None, "show these keys"),
}
"""Keys with what they do, and the decision they stand for."""


def keys_line(question: Question) -> str:
    """The keys that make sense for this question, on one line."""
    many = len(question.members)
    whole = "confirm" if many == 1 else f"confirm all {many}"
    words = {
        Decision.CONFIRM: f"y {whole}",
        Decision.TAKE_OUT: "t NUMBERS take out",
        Decision.CORRECT: "f 27/8/7 figures · e maker=… fields",
        Decision.SKIP: "s skip",
        Decision.SET_ASIDE: "x set aside" if many == 1 else "",
        Decision.UNDO: "u undo",
        Decision.STOP: "q stop",
    }
    keys = [words[d] for d in Decision if d in question.may and words[d]]
    if question.asked is Asked.BY_HAND:
        keys[0] = "27/8/7 type the figures (- for none) · e maker=… fields"
    return " · ".join([*keys, "v see evidence", "? help"])

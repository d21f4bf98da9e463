"""What a person typed or touched on the page, understood as an answer. Nothing is stored here."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from decimal import Decimal

from stampreader.confirm import Answer, Asked, Change, Decision, Question, parse_figure
from stampreader.errors import UsageError
from stampreader.marks import normal_form
from stampreader.words import SLOTS, Slot

FIELDS = ("maker", "model", "batch", "made_on", "shape", "material", "gate", "note")
"""Fields that may be typed for one connector or for a whole group."""
OWN_FIELDS = ("serial", "id")
"""Fields that only one connector can have."""
MOST_TEXT = 400


def understood(form: Mapping[str, Sequence[str]], question: Question) -> Answer:
    """What a form sent by the page means.

    Args:
        form: its fields, each with everything given for it.
        question: what was asked.

    Raises:
        UsageError: it is not understood, or makes no sense here.
    """
    try:
        decision = Decision(_one(form, "decision"))
    except ValueError as error:
        raise UsageError("no decision was given", remedy="Choose one of the buttons.") from error
    if decision is Decision.TAKE_OUT:
        return Answer(decision, keys=_members(form, question))
    if decision is Decision.CORRECT:
        return Answer(decision, change=_change(form, question))
    if decision is Decision.SET_ASIDE:
        return _set_aside(form, question)
    return Answer(decision)


def numbers(text: str) -> frozenset[int]:
    """Whole numbers parted by commas, such as `3,4,12`; anything else is left out."""
    return frozenset(int(n) for n in text.split(",") if re.fullmatch(r"[0-9]{1,15}", n))


def _one(form: Mapping[str, Sequence[str]], name: str) -> str:
    """The only value of a field; empty if there is none.

    Raises:
        UsageError: it was given twice, or is far too long.
    """
    values = form.get(name, ())
    if len(values) > 1 or any(len(value) > MOST_TEXT for value in values):
        raise UsageError(f"{name} was given twice or is too long", remedy="Send it again.")
    return values[0].strip() if values else ""


def _members(form: Mapping[str, Sequence[str]], question: Question) -> frozenset[int]:
    named = numbers(",".join(form.get("member", ())))
    keys = named & {arrival.key for arrival in question.members}
    if not keys:
        raise UsageError("none was chosen", remedy="Choose those to take out first.")
    return keys


def _set_aside(form: Mapping[str, Sequence[str]], question: Question) -> Answer:
    if len(question.members) > 1:
        raise UsageError(
            "setting a whole group aside needs a closer look",
            remedy="Take out those meant, then set each aside.",
        )
    return Answer(Decision.SET_ASIDE, reason=_one(form, "reason"))


def _change(form: Mapping[str, Sequence[str]], question: Question) -> Change:
    """What differs from what was shown; a field left as it was is no correction."""
    figures = dict(_figures(form, question))
    names = FIELDS if question.asked is Asked.GROUP else FIELDS + OWN_FIELDS
    shown = shown_fields(question)
    given = {name: _one(form, name) for name in names if name in form}
    fields = {name: text for name, text in given.items() if text != shown.get(name, "")}
    marks = _marks(form, question)
    if not figures and not fields and marks is None:
        raise UsageError("nothing was changed", remedy="Type what is stamped, or confirm it.")
    return Change(figures=figures or None, marks=marks, fields=fields or None)


def shown_fields(question: Question) -> dict[str, str]:
    """Fields of the entry as they stand in the form."""
    entry = question.entry
    fields = dict(entry.fields or {})
    if len(question.members) == 1:
        fields["serial"] = entry.serial
        fields.setdefault("id", question.members[0].label or "")
    return fields


def _figures(
    form: Mapping[str, Sequence[str]], question: Question
) -> list[tuple[Slot, Decimal | None]]:
    found: list[tuple[Slot, Decimal | None]] = []
    for slot in SLOTS:
        if slot.value not in form:
            continue
        text, shown = _one(form, slot.value), question.entry.kN(slot)
        if not text and shown is not None:
            raise UsageError(
                f"the {slot.value} figure is empty", remedy="Write - if none is stamped."
            )
        if not text:
            continue
        value = parse_figure(text)
        if value != shown or (value is None and slot not in question.entry.typed):
            found.append((slot, value))
    return found


def _marks(form: Mapping[str, Sequence[str]], question: Question) -> tuple[str, ...] | None:
    if "marks" not in form:
        return None
    marks: list[str] = []
    for part in filter(None, (part.strip() for part in _one(form, "marks").split(","))):
        found = normal_form(part)
        if not found:
            raise UsageError(
                f"'{part}' is not a mark of a standard",
                remedy="Write marks such as CE 9123, EN 12275:2013/H, separated by commas.",
            )
        marks.extend(mark.text for mark in found)
    typed = tuple(dict.fromkeys(marks))
    return None if sorted(typed) == sorted(question.entry.marks) else typed

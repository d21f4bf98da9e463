"""Filters and fields as typed on the command line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from stampreader.errors import UsageError
from stampreader.register import Filter, Life
from stampreader.words import SLOTS


def typed_filter(
    states: Sequence[str], *, mark: str, at_least: str, in_conflict: bool, **texts: str
) -> Filter:
    """A filter as typed.

    Raises:
        UsageError: an unknown state, a mark or a strength that is none.
    """
    try:
        lives = tuple(Life(state) for state in states)
    except ValueError as error:
        raise UsageError(
            f"there is no such state: {error}".replace(" is not a valid Life", ""),
            remedy=f"States are {', '.join(Life)}.",
        ) from error
    return Filter(
        life=lives,
        mark=_one_mark(mark),
        least_closed_kN=_one_figure(at_least),
        in_conflict=in_conflict,
        **texts,
    )


def _one_figure(text: str) -> Decimal | None:
    if not text:
        return None
    from stampreader.confirm import parse_figure

    return parse_figure(text)


def _one_mark(text: str) -> str:
    if not text.strip():
        return ""
    marks = typed_marks(text)
    if len(marks) != 1:
        raise UsageError(f"'{text}' is several marks", remedy="Give one.")
    return marks[0]


def typed_marks(text: str) -> tuple[str, ...]:
    """Marks as typed, separated by commas, in normal form.

    Raises:
        UsageError: one of them is not a mark of a standard.
    """
    from stampreader.marks import normal_form

    marks: list[str] = []
    for part in filter(None, (part.strip() for part in text.split(","))):
        found = normal_form(part)
        if not found:
            raise UsageError(
                f"'{part}' is not a mark of a standard",
                remedy="Write marks such as CE 9123, EN 12275:2013/H, separated by commas.",
            )
        marks.extend(mark.text for mark in found)
    return tuple(dict.fromkeys(marks))


def typed_fields(
    *, figures: str | None, marks: str | None, fields: Sequence[str], **texts: str | None
) -> dict[str, Any]:
    """Fields of an entry as typed; those not given are left out.

    Raises:
        UsageError: a value that is not understood.
    """
    given: dict[str, Any] = {name: text for name, text in texts.items() if text is not None}
    if figures is not None:
        given.update(_figure_fields(figures))
    if marks is not None:
        given["marks"] = list(typed_marks(marks))
    for field in fields:
        name, sign, value = (part.strip() for part in field.partition("="))
        if not sign:
            raise UsageError(f"'{field}' is not NAME=VALUE", remedy="Write --set shape=oval.")
        given[name] = value
    return given


def _figure_fields(figures: str) -> Mapping[str, str | None]:
    from stampreader.confirm import parse_figures

    values = parse_figures(figures)
    return {
        f"{slot.value}_kN": None if value is None else str(value)
        for slot, value in zip(SLOTS, values, strict=True)
    }

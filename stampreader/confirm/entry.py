"""What would be entered for an arrival: its photos put together, and what a person changed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from stampreader.words import (
    NOTHING,
    SLOTS,
    Arrival,
    Doubt,
    Figure,
    Mark,
    Slot,
    Stamp,
    State,
)

Values = tuple[Decimal | None, Decimal | None, Decimal | None]
"""Strengths closed, cross-loaded, gate open; `None` where none is known."""

_RANK = {State.NONE: 0, State.ASK: 1, State.SURE: 2}


@dataclass(frozen=True, slots=True)
class Change:
    """What a person typed for an arrival; an empty field leaves what was read.

    Attributes:
        figures: slots whose figure was typed; `None` for "not stamped".
        marks: marks typed in place of those read.
        fields: other fields of the entry, such as maker and model.
    """

    figures: Mapping[Slot, Decimal | None] | None = None
    marks: tuple[str, ...] | None = None
    fields: Mapping[str, str] | None = None

    def over(self, earlier: Change) -> Change:
        """This change on top of an earlier one."""
        return Change(
            figures={**(earlier.figures or {}), **(self.figures or {})} or None,
            marks=self.marks if self.marks is not None else earlier.marks,
            fields={**(earlier.fields or {}), **(self.fields or {})} or None,
        )


UNCHANGED = Change()


@dataclass(frozen=True, slots=True)
class Entry:
    """What would be entered for one arrival.

    Attributes:
        stamp: all its photos put together.
        values: the figures, corrected where a person typed them.
        marks: marks in normal form, sorted.
        serial: as read or typed.
        typed: slots whose figure a person typed.
        fields: other fields typed or ordered.
    """

    stamp: Stamp
    values: Values
    marks: tuple[str, ...]
    serial: str = ""
    typed: frozenset[Slot] = frozenset()
    fields: Mapping[str, str] | None = None

    @property
    def same(self) -> tuple[Values, tuple[str, ...]]:
        """What two arrivals must have in common to be confirmed together."""
        return (self.values, self.marks)

    def kN(self, slot: Slot) -> Decimal | None:
        """The figure of one slot."""
        return self.values[SLOTS.index(slot)]

    def as_fields(self) -> dict[str, Any]:
        """Fields as the register takes them."""
        given: dict[str, Any] = dict(self.fields or {})
        given.update({f"{slot.value}_kN": self.kN(slot) for slot in SLOTS})
        given["marks"] = list(self.marks)
        if self.serial:
            given.setdefault("serial", self.serial)
        return given


def confirmed_entry(values: Values, marks: Sequence[str], fields: Mapping[str, str]) -> Entry:
    """The entry of a connector that is in the register: a person has confirmed its figures."""
    return Entry(
        stamp=Stamp(),
        values=values,
        marks=tuple(sorted(marks)),
        typed=frozenset(SLOTS),
        fields=dict(fields),
    )


def entry_of(arrival: Arrival, change: Change = UNCHANGED) -> Entry:
    """What would be entered for this arrival."""
    stamp = put_together([sighting.stamp for sighting in arrival.seen])
    typed = dict(change.figures or {})
    closed, cross, open_ = (
        typed[slot] if slot in typed else stamp.figure(slot).kN for slot in SLOTS
    )
    read = tuple(sorted({mark.text for mark in stamp.marks}))
    fields = dict(change.fields or {})
    return Entry(
        stamp=stamp,
        values=(closed, cross, open_),
        marks=read if change.marks is None else tuple(sorted(set(change.marks))),
        serial=fields.pop("serial", stamp.serial or ""),
        typed=frozenset(typed),
        fields=fields,
    )


def put_together(stamps: Sequence[Stamp]) -> Stamp:
    """Several photos of one connector as one stamp.

    A figure that two photos read differently is asked about, never chosen silently. A figure that
    is seen on one photo only is taken from there.
    """
    if not stamps:
        return Stamp()
    if len(stamps) == 1:
        return stamps[0]
    closed, cross, open_ = (_figure([stamp.figure(slot) for stamp in stamps]) for slot in SLOTS)
    marks: dict[str, Mark] = {}
    for mark in (mark for stamp in stamps for mark in stamp.marks):
        if mark.text not in marks or mark.confidence > marks[mark.text].confidence:
            marks[mark.text] = mark
    serials = tuple(dict.fromkeys(stamp.serial for stamp in stamps if stamp.serial))
    notes = [note for stamp in stamps for note in stamp.notes]
    if len(serials) > 1:
        notes.append(f"Two serial numbers were read: {' and '.join(serials)}.")
    return replace(
        stamps[0],
        closed=closed,
        cross=cross,
        open=open_,
        marks=tuple(sorted(marks.values(), key=lambda mark: mark.text)),
        serial=serials[0] if serials else None,
        notes=tuple(dict.fromkeys(notes)),
    )


def _figure(figures: Sequence[Figure]) -> Figure:
    seen = [figure for figure in figures if figure.kN is not None]
    if not seen:
        return next((figure for figure in figures if figure.doubts), NOTHING)
    best = max(seen, key=lambda figure: (_RANK[figure.state], figure.confidence))
    if len({figure.kN for figure in seen}) == 1:
        return best
    doubts = tuple(dict.fromkeys((Doubt.TWO_VALUES, *best.doubts)))
    return replace(best, state=State.ASK, doubts=doubts)

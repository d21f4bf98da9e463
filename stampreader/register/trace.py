"""Tracing a notice or recall: every connector of a maker, model, batch, serial range or year.

A notice names batches as a range, a list or a beginning. A connector whose batch was never
recorded cannot be ruled out, so it is found too, and told apart.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from itertools import islice
from typing import Any

from stampreader.errors import UsageError
from stampreader.register.connectors import find_connector
from stampreader.register.deriving import Connector
from stampreader.register.entries import correct_entry
from stampreader.register.events import Event, Kind
from stampreader.register.intervals import same_case
from stampreader.register.life import clean_note, quarantine
from stampreader.register.picking import stream
from stampreader.register.projection import connector_of, split_id
from stampreader.register.steps import Life
from stampreader.register.store import Register

MOST_DIGITS = 12
"""Numbers in a range may be written with leading zeros up to so many digits."""
_YEARS = re.compile(r"\d{4}(?:-\d{2}){0,2}", re.ASCII)
_HOW = "Write one value, several with commas, a range A100..A250, or a beginning A1*."


class Match(StrEnum):
    """Whether a connector is one of those a notice speaks of."""

    CERTAIN = "is one of them"
    DOUBTFUL = "cannot be ruled out"
    NOT = "is none of them"


@dataclass(frozen=True, slots=True)
class Span:
    """Values of a batch or serial: one, a range, or everything with a beginning.

    Attributes:
        start: the value itself, or what comes before the number of a range.
        first, last: numbers of a range; `None` where it is no range of numbers.
        until: last of a range of equally long texts, such as 24A to 24D.
        open_end: everything that begins so.
    """

    start: str
    first: int | None = None
    last: int | None = None
    until: str = ""
    open_end: bool = False

    def holds(self, value: str) -> bool:
        """Whether a value is one of these; letters without case, numbers as numbers."""
        text, start = same_case(value), same_case(self.start)
        if self.open_end:
            return text.startswith(start)
        if self.until:
            return len(text) == len(start) and start <= text <= same_case(self.until)
        if self.first is None or self.last is None:
            return text == start
        rest = text[len(start) :]
        if not text.startswith(start) or not (rest.isascii() and rest.isdigit()):
            return False
        return self.first <= int(rest) <= self.last


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a notice speaks of; an empty field does not limit.

    Attributes:
        maker, model, delivery: exact text, letters without case.
        batches, serials: values, ranges, beginnings.
        made: first and last year, month or day of manufacture.
    """

    maker: str = ""
    model: str = ""
    delivery: str = ""
    batches: tuple[Span, ...] = ()
    serials: tuple[Span, ...] = ()
    made: tuple[str, str] | None = None

    @property
    def is_empty(self) -> bool:
        """Whether nothing is named."""
        return self == Wanted()


def parse_spans(text: str) -> tuple[Span, ...]:
    """Batches or serials as typed.

    Example:
        >>> parse_spans("24A, SN100..250, X*")[1]
        Span(start='SN', first=100, last=250, until='', open_end=False)

    Raises:
        UsageError: a range without numbers, turned round, or with two beginnings.
    """
    parts = [" ".join(part.split()) for part in text.split(",")]
    return tuple(_span(part) for part in parts if part)


def _span(text: str) -> Span:
    if text.endswith("*"):
        if not text.strip("*"):
            raise UsageError("'*' alone names everything", remedy=_HOW)
        return Span(text.rstrip("*"), open_end=True)
    first, dots, last = (part.strip() for part in text.partition(".."))
    if not dots:
        return Span(text)
    start, low = split_id(first)
    end, high = split_id(last)
    if first == start and last == end and len(first) == len(last) > 0:
        if same_case(first) > same_case(last):
            raise UsageError(f"'{text}' is turned round", remedy="Write the smaller one first.")
        return Span(first, until=last)
    if first == start or last == end:
        raise UsageError(f"'{text}' is no range", remedy=_HOW)
    if end and same_case(end) != same_case(start):
        raise UsageError(f"'{text}' begins differently at its two ends", remedy=_HOW)
    if low > high:
        raise UsageError(f"'{text}' is turned round", remedy="Write the smaller number first.")
    return Span(start, low, high)


def parse_made(text: str) -> tuple[str, str]:
    """Years, months or days of manufacture as typed: `2019`, `2019..2021`, `2019-05..2019-07`.

    Raises:
        UsageError: not a year, or turned round.
    """
    first, dots, last = (part.strip() for part in text.partition(".."))
    last = last if dots else first
    if not _YEARS.fullmatch(first) or not _YEARS.fullmatch(last):
        raise UsageError(f"'{text}' is no year", remedy="Write 2019, 2019-05 or 2019..2021.")
    if first > last + "~":
        raise UsageError(f"'{text}' is turned round", remedy="Write the earlier year first.")
    return first, last


def matches(connector: Connector, wanted: Wanted) -> Match:
    """Whether a connector is one of those; what was never recorded cannot rule it out."""
    answers = [
        _text(getattr(connector, name), getattr(wanted, name))
        for name in ("maker", "model", "delivery")
        if getattr(wanted, name)
    ]
    for value, spans in ((connector.batch, wanted.batches), (connector.serial, wanted.serials)):
        if spans:
            answers.append(_any(value, spans))
    if wanted.made:
        answers.append(_made(connector.made_on, *wanted.made))
    for answer in (Match.NOT, Match.DOUBTFUL):
        if answer in answers:
            return answer
    return Match.CERTAIN


def _text(value: str, wanted: str) -> Match:
    if not value:
        return Match.DOUBTFUL
    return Match.CERTAIN if same_case(value) == same_case(wanted) else Match.NOT


def _any(value: str, spans: Sequence[Span]) -> Match:
    if not value:
        return Match.DOUBTFUL
    return Match.CERTAIN if any(span.holds(value) for span in spans) else Match.NOT


def _made(made_on: str, first: str, last: str) -> Match:
    """A year that holds the wanted month cannot be ruled out."""
    if not made_on:
        return Match.DOUBTFUL
    begins, ends = made_on, made_on + "~"
    if ends < first or begins > last + "~":
        return Match.NOT
    return Match.CERTAIN if begins >= first and ends <= last + "~" else Match.DOUBTFUL


@dataclass(frozen=True, slots=True)
class Traced:
    """What a trace found.

    Attributes:
        certain: connectors the notice speaks of, wherever they are and whatever their state.
        doubtful: those that cannot be ruled out because something was never recorded.
        more: there are more doubtful ones than are listed.
    """

    certain: tuple[Connector, ...]
    doubtful: tuple[Connector, ...]
    more: bool = False


def trace(register: Register, wanted: Wanted, *, most_doubtful: int = 200) -> Traced:
    """Every connector a notice speaks of, by place and id.

    Args:
        register: the register.
        wanted: what the notice names.
        most_doubtful: list at most so many of those that cannot be ruled out; 0 for all.

    Raises:
        UsageError: nothing is named.
    """
    if wanted.is_empty:
        raise UsageError(
            "nothing is named to trace", remedy="Give a maker, model, batch, serial or year."
        )
    certain = _found(register, wanted, Match.CERTAIN)
    found = _found(register, wanted, Match.DOUBTFUL)
    doubtful = list(islice(found, most_doubtful + 1 if most_doubtful else None))
    more = bool(most_doubtful) and len(doubtful) > most_doubtful
    return Traced(
        _by_place(certain), _by_place(doubtful[:most_doubtful] if more else doubtful), more
    )


def _found(register: Register, wanted: Wanted, match: Match) -> Iterator[Connector]:
    sql, values = trace_sql(wanted, doubtful=match is Match.DOUBTFUL)
    for row in stream(register, sql, values):
        connector = connector_of(row)
        if matches(connector, wanted) is match:
            yield connector


def _by_place(connectors: Iterator[Connector] | Sequence[Connector]) -> tuple[Connector, ...]:
    return tuple(sorted(connectors, key=lambda c: (same_case(c.place), split_id(c.id), c.uid)))


def trace_sql(wanted: Wanted, *, doubtful: bool) -> tuple[str, list[Any]]:
    """The question behind a trace; it finds at least those that match, never fewer.

    Args:
        wanted: what the notice names.
        doubtful: also let through what was never recorded, at least once a connector.
    """
    columns: list[str] = []
    clauses: list[str] = []
    values: list[Any] = []
    for column, (clause, more) in _clauses(wanted):
        columns.append(column)
        clauses.append(f"({clause} OR {column} = '')" if doubtful else f"({clause})")
        values.extend(more)
    if doubtful:
        vague = [f"{column} = ''" for column in columns]
        if wanted.made:
            vague.append("length(made_on) < 10")
        clauses.append(f"({' OR '.join(vague)})")
    clauses.append("+life != ?")
    values.append(str(Life.WITHDRAWN))
    return f"SELECT * FROM connectors WHERE {' AND '.join(clauses)}", values


def _clauses(wanted: Wanted) -> Iterator[tuple[str, tuple[str, list[Any]]]]:
    for name in ("maker", "model", "delivery"):
        if getattr(wanted, name):
            yield name, (f"{name} = ?", [getattr(wanted, name)])
    for column, spans in (("batch", wanted.batches), ("serial", wanted.serials)):
        if spans:
            yield column, _spans_sql(column, spans)
    if wanted.made:
        first, last = wanted.made
        yield "made_on", ("made_on BETWEEN ? AND ?", [first[:4], last + "~"])


def _spans_sql(column: str, spans: Sequence[Span]) -> tuple[str, list[Any]]:
    clauses: list[str] = []
    values: list[Any] = []
    for span in spans:
        if span.open_end:
            clauses.append(f"({column} >= ? AND {column} < ?)")
            values += [span.start, span.start + "\U0010ffff"]
        elif span.until:
            clauses.append(f"({column} BETWEEN ? AND ? AND length({column}) = ?)")
            values += [span.start, span.until, len(span.start)]
        elif span.first is None or span.last is None:
            clauses.append(f"{column} = ?")
            values.append(span.start)
        else:
            for low, high in _written(span.first, span.last):
                clauses.append(f"({column} BETWEEN ? AND ? AND length({column}) = ?)")
                values += [span.start + low, span.start + high, len(span.start) + len(low)]
    return " OR ".join(clauses), values


def _written(first: int, last: int) -> Iterator[tuple[str, str]]:
    """A range of numbers as texts of equal length, for every length it may be written in."""
    for digits in range(1, max(MOST_DIGITS, len(str(last))) + 1):
        high = min(last, 10**digits - 1)
        if first <= high:
            yield f"{first:0{digits}d}", f"{high:0{digits}d}"


@dataclass(frozen=True, slots=True)
class Stopped:
    """What a quarantine under a notice did.

    Attributes:
        quarantined: now set apart.
        before: were set apart under the same notice already.
        lost: cannot be set apart; the notice stands in their notes until they are found.
        retired: out of use for good.
    """

    quarantined: tuple[Connector, ...] = ()
    before: tuple[Connector, ...] = ()
    lost: tuple[Connector, ...] = ()
    retired: tuple[Connector, ...] = ()


def quarantine_traced(
    register: Register,
    wanted: Wanted,
    reference: str,
    *,
    who: str,
    at: datetime,
    reason: str = "",
    on: str | None = None,
    doubtful: bool | None = None,
) -> Stopped:
    """Trace and set apart everything found, in one transaction: all of it, or nothing.

    Args:
        register: the register.
        wanted: what the notice names.
        reference: the notice's number or name.
        who: who sets them apart.
        at: the present time.
        reason: what the notice says, in a few words.
        on: the day it was done if not today.
        doubtful: also set apart what cannot be ruled out; `None`: nobody has said.

    Raises:
        UsageError: nothing is named, no reference, or something cannot be ruled out and nobody
            has said whether it is set apart too.
        RefusedStep: the day cannot be.
    """
    named = clean_note(reference, "the notice's reference", most=80)
    why = " ".join(reason.split()) or f"notice {named}"
    with register.writing():
        traced = trace(register, wanted, most_doubtful=0)
        if doubtful is None and traced.doubtful:
            raise UsageError(
                f"{len(traced.doubtful)} more cannot be ruled out, because something of them is "
                "not recorded; nothing was set apart yet",
                remedy="Look at them without --quarantine, then give --doubtful-too or "
                "--only-certain.",
            )
        found = (*traced.certain, *(traced.doubtful if doubtful else ()))
        before = [c for c in found if _is_stopped(register, c, named)]
        lost = [c for c in found if c.life is Life.LOST]
        retired = [c for c in found if c.life is Life.RETIRED]
        left_out = {c.uid for c in (*before, *lost, *retired)}
        stopped = [c for c in found if c.uid not in left_out]
        quarantine(register, stopped, why, who=who, at=at, on=on, reference=named)
        for connector in lost:
            _note_notice(register, connector, named, who=who, at=at)
    return Stopped(tuple(stopped), tuple(before), tuple(lost), tuple(retired))


def _is_stopped(register: Register, connector: Connector, reference: str) -> bool:
    return connector.life is Life.QUARANTINED and any(
        event.kind is Kind.QUARANTINED and event.body.get("reference") == reference
        for event in register.history(connector.uid)
    )


def _note_notice(
    register: Register, connector: Connector, reference: str, *, who: str, at: datetime
) -> Event | None:
    """Write the notice into the note of a lost connector, for the day it is found."""
    notice = f"notice {reference}"
    present = find_connector(register, connector.uid).note
    if notice in present:
        return None
    note = f"{notice}; {present}" if present else notice
    return correct_entry(
        register, connector, {"note": note[:200]}, why=f"{notice} while lost", who=who, at=at
    )

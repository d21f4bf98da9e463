"""Life events: what persons do with connectors, of one or of many at once.

The events of one call are stored together or, if one of them is refused, not at all.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from datetime import date, datetime
from typing import Any

from stampreader.errors import RefusedStep, UsageError
from stampreader.register.connectors import ANY, Filter, find_connector, list_connectors
from stampreader.register.deriving import Connector, derive
from stampreader.register.events import Body, Event, Kind
from stampreader.register.steps import ALLOWED
from stampreader.register.store import Register

_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
FIRST_YEAR = 1950
MOST_REASONS = 5
"""So many refusals of one call are named; the rest are counted."""

Bodies = Body | Callable[[Connector], Body]
"""What belongs to the events: the same for all, or worked out for each connector."""


def clean_day(text: str) -> str:
    """A day as typed, in the stored form.

    Example:
        >>> clean_day(" 2025-03-01 ")
        '2025-03-01'

    Raises:
        UsageError: not a day of the calendar, or before connectors of this kind were made.
    """
    cleaned = text.strip()
    remedy = "Write it as year-month-day, such as 2025-03-01."
    if not _DAY.fullmatch(cleaned):
        raise UsageError(f"'{cleaned}' is not a day", remedy=remedy)
    try:
        day = date.fromisoformat(cleaned)
    except ValueError as error:
        raise UsageError(f"there is no day {cleaned}", remedy=remedy) from error
    if day.year < FIRST_YEAR:
        raise UsageError(f"{cleaned} is before {FIRST_YEAR}", remedy=remedy)
    return cleaned


def clean_note(text: str, what: str, *, most: int = 500) -> str:
    """A reason, note or name of a place as typed, on one line.

    Raises:
        UsageError: nothing but blanks, too long, or characters that cannot be printed.
    """
    cleaned = " ".join(text.split())
    if not cleaned:
        raise UsageError(f"{what} is empty", remedy="Give it in a few words.")
    if len(cleaned) > most or not cleaned.isprintable():
        raise UsageError(
            f"{what} is too long or holds unprintable characters",
            remedy=f"Give at most {most} letters.",
        )
    return cleaned


def clean_place(text: str) -> str:
    """The name of a kit or store as typed.

    Raises:
        UsageError: empty, too long, or not printable.
    """
    return clean_note(text, "the name of the kit or store", most=80)


def choose(
    register: Register, ids: Iterable[str], kinds: Sequence[Kind], which: Filter = ANY
) -> list[Connector]:
    """Connectors a step is to be taken with: those named, and those of a kit or a delivery.

    Those named are taken whatever their state, so that an illegal step is refused and told; of a
    kit or delivery only those are taken whose state allows one of the steps.

    Args:
        register: the register.
        ids: readable ids; each connector is taken once.
        kinds: the steps meant.
        which: all that pass this; nothing if it is `ANY`.

    Raises:
        UnknownConnector: an id is not in the register.
        UsageError: nothing is named, or nothing fits.
    """
    named = [find_connector(register, id) for id in ids]
    if which is ANY and not named:
        raise UsageError(
            "no connector is named", remedy="Give ids, or all of a kit with --place NAME."
        )
    found = [] if which is ANY else list_connectors(register, which)
    fitting = [c for c in found if ALLOWED[c.life].intersection(kinds)]
    if which is not ANY and not fitting and not named:
        raise UsageError(
            "no connector there that this can be done with",
            remedy="See `stampreader list` for what is where.",
        )
    return list({c.uid: c for c in (*named, *fitting)}.values())


def take_step(
    register: Register,
    connectors: Sequence[Connector],
    kind: Kind,
    body: Bodies,
    *,
    who: str,
    at: datetime,
    on: str | None = None,
) -> list[Event]:
    """Record one step of each connector: all of them, or none.

    Args:
        register: the register.
        connectors: which.
        kind: what happened.
        body: what belongs to it.
        who: who did it.
        at: the present time.
        on: the day it happened if not today.

    Raises:
        RefusedStep: the state of one or more connectors does not allow it, or the day cannot be.
    """
    make = body if callable(body) else (lambda connector: body)
    events: list[Event] = []
    refused: list[str] = []
    with register.writing():
        for connector in connectors:
            try:
                _refuse_before_made(connector, on)
                events.append(
                    register.record(
                        kind, connector.uid, make(connector), who=who, at=at, happened_on=on
                    )
                )
            except RefusedStep as error:
                if len(connectors) == 1:
                    raise
                refused.append(str(error))
        if refused:
            raise _refused(refused, len(connectors))
    return events


def _refuse_before_made(connector: Connector, on: str | None) -> None:
    if on is not None and on < connector.made_on[: len(on)]:
        raise RefusedStep(
            f"{connector.id}: {on} lies before it was made ({connector.made_on})",
            remedy="Give the day it happened, or correct the date of manufacture.",
        )


def _refused(reasons: Sequence[str], count: int) -> RefusedStep:
    shown = "; ".join(dict.fromkeys(reasons[:MOST_REASONS]))
    more = f"; and {len(reasons) - MOST_REASONS} more" if len(reasons) > MOST_REASONS else ""
    return RefusedStep(
        f"{len(reasons)} of {count} refused: {shown}{more}",
        remedy="Nothing was recorded; leave those out and run the command again.",
    )


def put_in_service(
    register: Register,
    connectors: Sequence[Connector],
    *,
    who: str,
    at: datetime,
    on: str | None = None,
    place: str = "",
) -> list[Event]:
    """Connectors go into service, where a place is given into that kit or store."""
    return take_step(
        register, connectors, Kind.PUT_IN_SERVICE, _given(place=place), who=who, at=at, on=on
    )


def move(
    register: Register,
    connectors: Sequence[Connector],
    place: str,
    *,
    who: str,
    at: datetime,
    on: str | None = None,
    reason: str = "",
) -> list[Event]:
    """Connectors are put into another kit or store."""
    body = _given(place=clean_place(place), reason=reason)
    return take_step(register, connectors, Kind.MOVED, body, who=who, at=at, on=on)


def quarantine(
    register: Register,
    connectors: Sequence[Connector],
    reason: str,
    *,
    who: str,
    at: datetime,
    on: str | None = None,
    place: str = "",
    reference: str = "",
) -> list[Event]:
    """Connectors are kept apart and not used until a competent person releases them.

    Args:
        register: the register.
        connectors: which.
        reason: why.
        who: who sets them apart.
        at: the present time.
        on: the day it was done if not today.
        place: where they are kept.
        reference: number of the notice that asks for it.
    """
    body = _given(reason=clean_note(reason, "the reason"), place=place, reference=reference)
    return take_step(register, connectors, Kind.QUARANTINED, body, who=who, at=at, on=on)


def release(
    register: Register,
    connectors: Sequence[Connector],
    reason: str,
    *,
    competent_person: str,
    who: str,
    at: datetime,
    on: str | None = None,
    place: str = "",
) -> list[Event]:
    """A named competent person ends a quarantine.

    One whose last inspection failed, or that was lost and found, must have passed an inspection
    since: a release alone does not undo a finding.

    Raises:
        RefusedStep: not quarantined, or not inspected since.
    """
    body = _given(
        competent_person=clean_note(competent_person, "the competent person's name", most=80),
        reason=clean_note(reason, "the reason"),
        place=place,
    )
    with register.writing():
        for connector in connectors:
            refuse_uninspected(register, connector)
        return take_step(register, connectors, Kind.RELEASED, body, who=who, at=at, on=on)


def refuse_uninspected(register: Register, connector: Connector) -> None:
    """Refuse a release while nothing has been inspected since what led to the quarantine.

    Raises:
        RefusedStep: the last inspection failed, or it was found again and not inspected since.
    """
    why = since = ""
    for event in register.history(connector.uid):
        if event.kind is Kind.FOUND:
            why = "it was lost and nobody has inspected it since it was found"
            since = event.happened_on
        elif event.kind is Kind.INSPECTED and event.body.get("result") == "fail":
            why, since = "its last inspection failed", event.happened_on
        elif event.kind is Kind.INSPECTED and event.happened_on >= since:
            why = ""
    if why:
        raise RefusedStep(
            f"{connector.id}: {why}",
            remedy="Inspect it first: `stampreader inspect`; then release it.",
        )


def retire(
    register: Register,
    connectors: Sequence[Connector],
    reason: str,
    *,
    who: str,
    at: datetime,
    on: str | None = None,
    place: str = "",
) -> list[Event]:
    """Connectors leave service for good; nothing brings them back."""
    body = _given(reason=clean_note(reason, "the reason"), place=place)
    return take_step(register, connectors, Kind.RETIRED, body, who=who, at=at, on=on)


def report_lost(
    register: Register,
    connectors: Sequence[Connector],
    *,
    who: str,
    at: datetime,
    on: str | None = None,
    reason: str = "",
) -> list[Event]:
    """Nobody knows where they are."""
    return take_step(register, connectors, Kind.LOST, _given(reason=reason), who=who, at=at, on=on)


def report_found(
    register: Register,
    connectors: Sequence[Connector],
    *,
    who: str,
    at: datetime,
    on: str | None = None,
    place: str = "",
    reason: str = "",
) -> list[Event]:
    """Lost ones turned up; they stay quarantined until inspected and released."""
    body = _given(place=place, reason=reason)
    return take_step(register, connectors, Kind.FOUND, body, who=who, at=at, on=on)


def _given(**texts: str) -> dict[str, Any]:
    """The body of an event: what was given, in one line each."""
    return {name: " ".join(text.split()) for name, text in texts.items() if text.strip()}


def present_state(register: Register, events: Iterable[Event]) -> list[Connector]:
    """The connectors of these events as they are now, each once."""
    uids = dict.fromkeys(str(event.connector) for event in events if event.connector)
    return [derive(register.history(uid)) for uid in uids]

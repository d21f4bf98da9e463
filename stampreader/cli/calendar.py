"""Due inspections as an iCalendar file (RFC 5545): one all-day entry for each kit and day."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

from stampreader.errors import UsageError

if TYPE_CHECKING:
    from icalendar import Event

    from stampreader.register import Due

MOST_NAMED = 60
"""So many ids stand in the text of an entry; the rest are counted."""


def write_calendar(
    path: Path, found: Sequence[Due], at: datetime, *, team: str, overwrite: bool
) -> None:
    """Write the inspections as a calendar file; a later file updates the same entries.

    Raises:
        UsageError: the file exists, or the calendar library is not installed.
        CannotWrite: it cannot be written there.
    """
    from stampreader.cli.common import say
    from stampreader.cli.printing import refuse_taken, write_file

    refuse_taken([path], overwrite=overwrite)
    write_file(path, calendar_text(found, at, team=team))
    say(f"{path}: {len(found)} inspections for the calendar")


def calendar_text(found: Sequence[Due], at: datetime, *, team: str) -> bytes:
    """The calendar as bytes; the same input gives the same bytes."""
    try:
        from icalendar import Calendar
    except ModuleNotFoundError as error:
        raise UsageError(
            f"calendars need {error.name}, which is not installed",
            remedy='Install it with: pip install "stampreader[report]"',
        ) from error

    calendar = Calendar()
    calendar.add("prodid", "-//stampreader//inspections//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", f"Inspections {team}".strip())
    for entry in _entries(found, at):
        calendar.add_component(entry)
    return bytes(calendar.to_ical())


def _entries(found: Sequence[Due], at: datetime) -> Iterator[Event]:
    """One entry for each kit and day; what is overdue stands on today, so that it is seen."""
    today = at.astimezone().date()

    def key(due: Due) -> tuple[date, bool, str]:
        return max(due.due_on, today), due.due_on < today, due.connector.place

    for (day, overdue, place), group in groupby(sorted(found, key=key), key=key):
        yield _entry(list(group), day, overdue, place, at)


def _entry(group: Sequence[Due], day: date, overdue: bool, place: str, at: datetime) -> Event:
    from icalendar import Alarm, Event

    ids = [due.connector.id for due in group]
    where = place or "no kit"
    state = "overdue" if overdue else "due"
    entry = Event()
    entry.add("uid", _uid("overdue" if overdue else day.isoformat(), place))
    entry.add("dtstamp", at)
    entry.add("dtstart", day)
    entry.add("dtend", day + timedelta(days=1))
    entry.add("summary", f"Inspection {state}: {len(ids)} in {where}")
    entry.add("location", where)
    entry.add("description", _text(group))
    entry.add("transp", "TRANSPARENT")
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", f"Inspection {state} in {where}")
    alarm.add("trigger", timedelta(0))
    entry.add_component(alarm)
    return entry


def _text(group: Sequence[Due]) -> str:
    lines = [f"{due.connector.id} (due {due.due_on.isoformat()})" for due in group[:MOST_NAMED]]
    if len(group) > MOST_NAMED:
        lines.append(f"and {len(group) - MOST_NAMED} more")
    return "\n".join(lines)


def _uid(day: str, place: str) -> str:
    """The same for the same kit and day, so that importing again updates the entry."""
    digest = hashlib.sha256(f"{day}|{place.casefold()}".encode()).hexdigest()
    return f"{digest[:24]}@stampreader"

"""Intervals of inspections: months as the calendar counts them, kits with one of their own."""

from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from stampreader.errors import UsageError
from stampreader.register import (
    add_months,
    change_setting,
    check_register,
    move,
    next_due,
    read_intervals,
    report_lost,
    retire,
    set_interval,
)
from stampreader.register.intervals import latest_start

DAYS = st.dates(date(1990, 1, 1), date(2080, 12, 31))
MONTHS = st.integers(1, 120)


@given(DAYS, MONTHS)
def test_months_are_added_as_a_general_library_does(day, months):
    """The same day some months later, or the month's last: python-dateutil's relativedelta."""
    assert day + relativedelta(months=months) == add_months(day, months)


@given(DAYS, MONTHS)
def test_the_latest_start_is_the_latest(day, months):
    """From it the interval ends by the day, from the next day on it does not."""
    start = latest_start(day, months)
    assert add_months(start, months) <= day < add_months(start + timedelta(days=1), months)


@pytest.mark.parametrize(
    ("start", "months", "expected"),
    [
        ((2024, 2, 29), 12, (2025, 2, 28)),
        ((2024, 8, 31), 6, (2025, 2, 28)),
        ((2023, 8, 31), 6, (2024, 2, 29)),
        ((2024, 12, 15), 1, (2025, 1, 15)),
    ],
)
def test_ends_of_months(start, months, expected):
    """A day the month does not have is moved to its last."""
    assert date(*expected) == add_months(date(*start), months)


def test_the_usual_interval_is_twelve_months(shelf):
    """EN 365 asks for 12 months at most; the team may set 6."""
    shelf.enter("C-1", in_service="2025-01-31")
    assert date(2026, 1, 31) == next_due(shelf.get("C-1"), read_intervals(shelf.book))
    change_setting(shelf.book, "interval_months", "6", **shelf.told())
    assert date(2025, 7, 31) == next_due(shelf.get("C-1"), read_intervals(shelf.book))


def test_a_kit_has_its_own_interval(shelf):
    """What lies in the kit is due by its interval, without regard to case; moved out, it is not."""
    shelf.enter("C-1", in_service="2025-01-31", place="RESCUE kit")
    set_interval(shelf.book, "Rescue Kit", 6, **shelf.told())
    assert date(2025, 7, 31) == next_due(shelf.get("C-1"), read_intervals(shelf.book))
    move(shelf.book, [shelf.get("C-1")], "Store", **shelf.told())
    assert date(2026, 1, 31) == next_due(shelf.get("C-1"), read_intervals(shelf.book))


def test_an_interval_is_changed_and_taken_away(shelf):
    """One entry a kit however it is written; the history keeps every change."""
    set_interval(shelf.book, "Kit 1", 6, **shelf.told())
    set_interval(shelf.book, "KIT 1", 3, **shelf.told())
    assert {"Kit 1": 3} == dict(read_intervals(shelf.book).kits)
    set_interval(shelf.book, "kit 1", None, **shelf.told())
    assert {} == dict(read_intervals(shelf.book).kits)
    assert 3 == shelf.events()
    assert [] == list(check_register(shelf.book))


@pytest.mark.parametrize("months", [0, -1, 121])
def test_an_interval_is_from_1_to_120_months(shelf, months):
    """Anything else is refused."""
    with pytest.raises(UsageError, match="cannot be"):
        set_interval(shelf.book, "Kit 1", months, **shelf.told())


def test_an_interval_that_is_not_set_cannot_be_taken_away(shelf):
    """Said in a line."""
    with pytest.raises(UsageError, match="Kit 1 has no interval of its own"):
        set_interval(shelf.book, "Kit 1", None, **shelf.told())


def test_the_lost_and_retired_are_never_due(shelf):
    """Nobody inspects what is not there."""
    for id in ("C-1", "C-2"):
        shelf.enter(id, in_service="2020-01-31")
    report_lost(shelf.book, [shelf.get("C-1")], **shelf.told())
    retire(shelf.book, [shelf.get("C-2")], "worn", **shelf.told())
    usual = read_intervals(shelf.book)
    assert [None, None] == [next_due(shelf.get(id), usual) for id in ("C-1", "C-2")]

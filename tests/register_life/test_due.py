"""Due lists: what the calendar says, whatever the kit, in order, without reading all rows."""

from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stampreader.register import (
    count_due,
    list_connectors,
    list_due,
    next_due,
    quarantine,
    read_intervals,
    retire,
    set_interval,
)


def due(shelf, days=30, **more):
    """Ids due within so many days."""
    return [
        d.connector.id for d in list_due(shelf.book, today=shelf.today, within_days=days, **more)
    ]


def test_overdue_and_soon_in_order(shelf):
    """The longest overdue first; today counts as due, not as overdue."""
    shelf.enter("C-1", in_service="2024-06-01")
    shelf.enter("C-2", in_service="2024-05-31")
    shelf.enter("C-3", in_service="2024-07-01")
    shelf.enter("C-4", in_service="2024-07-02")
    assert ["C-2", "C-1", "C-3"] == due(shelf)
    found = list_due(shelf.book, today=shelf.today, within_days=30)
    assert [-1, 0, 30] == [d.days_left(shelf.today) for d in found]
    assert [date(2025, 5, 31), date(2025, 6, 1), date(2025, 7, 1)] == [d.due_on for d in found]


def test_looking_ahead_further_or_not_at_all(shelf):
    """The days to look ahead are the person's to choose."""
    shelf.enter("C-1", in_service="2024-06-01")
    shelf.enter("C-2", in_service="2025-05-01")
    assert (["C-1"], ["C-1"], ["C-1", "C-2"]) == (due(shelf, 0), due(shelf, 30), due(shelf, 334))


def test_states_that_are_inspected(shelf):
    """Registered and quarantined ones are due as well; retired ones are not."""
    for id in ("C-1", "C-2", "C-3"):
        shelf.enter(id, in_service="2024-01-01")
    quarantine(shelf.book, [shelf.get("C-2")], "odd", **shelf.told())
    retire(shelf.book, [shelf.get("C-3")], "worn", **shelf.told())
    assert ["C-1", "C-2"] == sorted(due(shelf))


def test_only_of_a_kit_or_a_delivery(shelf):
    """The list is limited without regard to case."""
    shelf.enter("C-1", in_service="2024-01-01", place="Kit 1")
    shelf.enter("C-2", in_service="2024-01-02", place="Kit 2", delivery="Spring")
    assert (["C-1"], ["C-2"], []) == (
        due(shelf, place="kit 1"),
        due(shelf, delivery="SPRING"),
        due(shelf, place="Kit 1", delivery="Spring"),
    )


LIVES = st.tuples(
    st.dates(date(2023, 1, 1), date(2025, 6, 1)), st.sampled_from(["", "Kit A", "kit b", "Kit C"])
)


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(lives=st.lists(LIVES, max_size=12), days=st.integers(0, 400), limit=st.integers(0, 5))
def test_the_list_is_what_going_through_all_gives(fresh, lives, days, limit):
    """Whatever the kits and days, the list holds those whose next day is near, and no other."""
    with fresh() as shelf:
        set_interval(shelf.book, "KIT B", 6, **shelf.told())
        set_interval(shelf.book, "Kit C", 1, **shelf.told())
        for number, (day, place) in enumerate(lives):
            shelf.enter(f"C-{number}", in_service=day.isoformat(), place=place)
        intervals = read_intervals(shelf.book)
        until = shelf.today + timedelta(days=days)
        expected = sorted(
            day for c in list_connectors(shelf.book) if (day := next_due(c, intervals)) <= until
        )
        asked = {"today": shelf.today, "within_days": days}
        found = [d.due_on for d in list_due(shelf.book, limit=limit, **asked)]
        assert (expected[:limit] if limit else expected) == found
        assert len(expected) == count_due(shelf.book, **asked)


@pytest.mark.parametrize("limit", [1, 2, 3])
def test_a_limit_takes_the_most_urgent(shelf, limit):
    """With several intervals the first of all are listed, not the first of each."""
    set_interval(shelf.book, "Kit 1", 6, **shelf.told())
    shelf.enter("C-1", in_service="2024-03-01")
    shelf.enter("C-2", in_service="2024-10-01", place="Kit 1")
    shelf.enter("C-3", in_service="2024-05-01")
    assert ["C-1", "C-2", "C-3"][:limit] == due(shelf, limit=limit)

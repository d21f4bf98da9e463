"""Looking for what is fit: the index finds exactly those the demands describe."""

from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stampreader.register import (
    EVERYWHERE,
    Demands,
    Life,
    Shelf,
    candidates,
    list_connectors,
    next_due,
    passed_over,
    quarantine,
    read_intervals,
    set_interval,
    values_of,
)


def found(shelf, demands, where=EVERYWHERE):
    """Ids of the candidates in order."""
    intervals = read_intervals(shelf.book)
    return [c.id for c in candidates(shelf.book, demands, where, intervals, shelf.today)]


def test_only_in_service_and_not_overdue(shelf):
    """Registered, quarantined and overdue ones are no candidates; the freshest come first."""
    shelf.enter("C-1", in_service="2024-06-01")
    shelf.enter("C-2", in_service="2024-05-31")
    shelf.enter("C-3")
    shelf.enter("C-4", in_service="2025-05-01")
    shelf.enter("C-5", in_service="2025-05-01")
    quarantine(shelf.book, [shelf.get("C-5")], "odd", **shelf.told())
    assert ["C-4", "C-1"] == found(shelf, Demands())


@pytest.fixture
def mixed(shelf):
    """Gates, shapes, marks and figures of several kinds."""
    shelf.enter("C-1", "2025-01-01", gate="screw gate", shape="pear", closed_kN="22")
    shelf.enter("C-2", "2025-01-01", gate="Wire gate", shape="D", closed_kN="27.5")
    shelf.enter("C-3", "2025-01-01", gate="screw gate", shape="D", marks=["EN 12275:2013/H"])
    shelf.enter("C-4", "2025-01-01", "Kit 1", closed_kN=None, marks=["CE 9123", "NFPA 2500 G"])
    return shelf


DEMANDS = {
    "nothing": (Demands(), ["C-1", "C-2", "C-3", "C-4"]),
    "gates, without case": (Demands(gates=["wire gate"]), ["C-2"]),
    "no gate will do": (Demands(gates=[]), []),
    "shape": (Demands(shapes=["pear"]), ["C-1"]),
    "shape or a mark": (Demands(shapes=["pear"], instead_of_shape=["EN 12275/H"]), ["C-1", "C-3"]),
    "one of some marks": (Demands(marks=[["NFPA 2500 G", "EN 12275/H"]]), ["C-3", "C-4"]),
    "two groups of marks": (Demands(marks=[["CE 9123"], ["NFPA 2500 G"]]), ["C-4"]),
    "a mark nobody carries": (Demands(marks=[[]]), []),
    "strength; an unknown one never does": (Demands(least_N=27000), ["C-2", "C-3"]),
}


@pytest.mark.parametrize(("demands", "expected"), DEMANDS.values(), ids=DEMANDS)
def test_demands(mixed, demands, expected):
    """Each demand lets through what it says."""
    assert expected == sorted(found(mixed, demands))


def test_only_from_a_shelf(mixed):
    """A kit, delivery, maker or model limits where to look."""
    assert ["C-4"] == found(mixed, Demands(), Shelf(place="kit 1"))
    assert [] == found(mixed, Demands(), Shelf(maker="Felsnase"))
    assert ["C-4"] == [c.id for c in passed_over(mixed.book, Shelf(place="KIT 1"))]
    assert ["C-1", "C-2"] == [c.id for c in passed_over(mixed.book, EVERYWHERE, most=2)]


@pytest.mark.parametrize("column", ["gate", "shape", "place", "mark"])
def test_values_are_those_there_are(mixed, column):
    """The same as SQL's own DISTINCT, letters in either case counted once."""
    table = "connector_marks" if column == "mark" else "connectors"
    rows = mixed.book.rows(f"SELECT DISTINCT lower({column}) AS value FROM {table}")
    assert {row["value"] for row in rows} == {v.lower() for v in values_of(mixed.book, column)}


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    st.lists(
        st.tuples(
            st.dates(date(2024, 4, 1), date(2025, 6, 1)), st.sampled_from(["", "Kit A", "Kit B"])
        ),
        max_size=10,
    )
)
def test_candidates_are_those_not_overdue(fresh, lives):
    """Whatever the kits' intervals: in service, and the next inspection today or later."""
    with fresh() as shelf:
        set_interval(shelf.book, "kit a", 6, **shelf.told())
        set_interval(shelf.book, "Kit B", 13, **shelf.told())
        for number, (day, place) in enumerate(lives):
            shelf.enter(f"C-{number}", in_service=day.isoformat(), place=place)
        intervals = read_intervals(shelf.book)
        expected = {
            c.id
            for c in list_connectors(shelf.book)
            if c.life is Life.IN_SERVICE
            and next_due(c, intervals) > shelf.today - timedelta(days=1)
        }
        assert expected == set(found(shelf, Demands()))

"""What was ordered against what arrived."""

from decimal import Decimal

import pytest

from stampreader.confirm import (
    Order,
    compare,
    entry_of,
    figures_text,
    parse_figure,
    parse_figures,
    parse_order,
)
from stampreader.confirm.order import satisfies
from stampreader.errors import UsageError

LINE = "count=3; maker=Felsnase; model=Oval; figures=27/8/-; marks=CE 9123, EN 362/B"


def test_an_order_as_typed():
    """All keys are understood; `-` means not stamped."""
    assert Order(
        3, "Felsnase", "Oval", (Decimal(27), Decimal(8), None), ("CE 9123", "EN 362/B")
    ) == parse_order(LINE)


def test_an_order_is_kept_and_comes_back():
    """The form kept in the history gives the same order."""
    order = parse_order(LINE)
    assert order == Order.from_json(order.as_json())


@pytest.mark.parametrize(
    "text",
    ["", " ; ", "forty", "count=many", "count=-1", "colour=red", "count=", "count=1; count=2",
     "figures=27/8", "figures=27/8/x"],
)  # fmt: skip
def test_orders_that_are_not_understood(text):
    """Each is refused with how to write it."""
    with pytest.raises(UsageError) as told:
        parse_order(text)
    assert told.value.remedy


@pytest.mark.parametrize("text", ["27/8/7", "9/-/-", "22.5/8/7"])
def test_figures_are_written_as_read(text):
    """Figures as typed come out the same."""
    assert text == figures_text(parse_figures(text))


@pytest.mark.parametrize("text", ["0", "-1", "201", "27.125", "1e2", "٢٧", "nan", "27 8"])
def test_no_strengths(text):
    """What is not a strength is refused."""
    with pytest.raises(UsageError):
        parse_figure(text)


def found(orders, *arrivals):
    """Differences in words, with the number of connectors."""
    entries = {a.key: entry_of(a) for a in arrivals}
    return [(str(d), len(d.arrivals)) for d in compare(orders, entries)]


ORDER = Order(2, "Felsnase", "", (Decimal(27), Decimal(8), Decimal(7)), ("CE 9123",))


def test_a_delivery_as_ordered(arrival):
    """Nothing is told where nothing differs."""
    assert [] == found([ORDER], arrival(1), arrival(2))


def test_every_difference_is_told(arrival):
    """Count, figures, missing figure and marks."""
    told = found(
        [ORDER],
        arrival(1, closed=22),
        arrival(2, closed=22, open=None),
        arrival(3, marks=("CE 9124",)),
    )
    assert [
        ("count: ordered 2 (Felsnase, 27/8/7), arrived 3", 0),
        ("closed: ordered 27, arrived 22", 2),
        ("open: ordered 7, not read", 1),
        ("mark: ordered CE 9123, arrived CE 9124", 1),
    ] == told


def test_a_figure_too_many_is_a_difference(arrival):
    """Where no open figure was ordered, one that is stamped is told."""
    order = Order(figures=(Decimal(27), Decimal(8), None))
    assert [("open: ordered none, arrived 7", 1)] == found([order], arrival(1))


def test_two_lines_of_an_order(arrival):
    """Each connector is held against the line it fits, and each line is counted."""
    pear = Order(1, "Steilhang", "Pear", (Decimal(22), Decimal(8), Decimal(7)))
    assert [("count: ordered 2 (Felsnase, 27/8/7), arrived 1", 0)] == found(
        [ORDER, pear], arrival(1), arrival(2, closed=22)
    )


@pytest.mark.parametrize(
    ("present", "ordered", "expected"),
    [
        ("EN 362:2004/B", "EN 362/B", True),
        ("EN 362:2004/B", "EN 362:2004/B", True),
        ("EN 362/B", "EN 362:2004/B", False),
        ("EN 362:2004/B", "EN 362/T", False),
        ("CE 9123", "CE 9124", False),
        ("uiaa", "UIAA", True),
    ],
)
def test_ordered_marks(present, ordered, expected):
    """A year counts only where it was ordered."""
    assert expected == satisfies(present, ordered)

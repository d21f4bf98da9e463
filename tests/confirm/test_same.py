"""Is the connector in the photo the one the register says it is?"""

from decimal import Decimal

import pytest

from stampreader.confirm import Known, Verdict, compare_with_register

FIGURES = (Decimal(27), Decimal(8), Decimal(7))
KNOWN = Known(FIGURES, ("CE 9123", "EN 362:2004/B"), "A 77-1")
ALL = ("CE 9123", "EN 362:2004/B")
WEAK = (22, "ask", "WEAK_GLYPH")

CASES = {
    "all the same": ({"marks": ALL, "serial": "a77 1"}, Verdict.MATCHES),
    "marks not seen": ({"marks": ()}, Verdict.MATCHES),
    "a figure in doubt but the same": ({"open": (7, "ask", "ONE_READER")}, Verdict.MATCHES),
    "a figure the readers disagree on": (
        {"open": (7, "ask", "READERS_DISAGREE")},
        Verdict.CANNOT_TELL,
    ),
    "another figure": ({"closed": 22}, Verdict.DIFFERS),
    "another figure in doubt": ({"closed": WEAK}, Verdict.CANNOT_TELL),
    "a figure not seen": ({"open": (None, "none", "NOT_SEEN")}, Verdict.CANNOT_TELL),
    "another body's number": ({"marks": ("CE 9124",)}, Verdict.DIFFERS),
    "another class": ({"marks": ("EN 362:2004/T",)}, Verdict.DIFFERS),
    "year not stamped": ({"marks": ("EN 362/B",)}, Verdict.MATCHES),
    "another serial": ({"serial": "A 77-2"}, Verdict.DIFFERS),
    "nothing seen": (
        {"closed": None, "cross": None, "open": None, "marks": ()},
        Verdict.CANNOT_TELL,
    ),
}


@pytest.mark.parametrize(("told", "verdict"), CASES.values(), ids=CASES)
def test_verdicts(stamp, told, verdict):
    """Each case has its verdict."""
    assert verdict is compare_with_register(KNOWN, [stamp(**told)]).verdict


def test_both_values_are_told(stamp):
    """A difference names what the register holds and what the photo shows."""
    items = compare_with_register(KNOWN, [stamp(cross=9)]).items
    (item,) = [i for i in items if i.verdict is Verdict.DIFFERS]
    assert ("cross", "8", "9") == (item.field, item.registered, item.seen)


def test_why_it_cannot_be_told(stamp):
    """What cannot be told says why."""
    items = compare_with_register(KNOWN, [stamp(closed=WEAK)]).items
    assert "read as 22, but in doubt: a character is faint or blurred" == items[0].why


def test_no_photo_at_all_cannot_tell():
    """Without any stamp nothing matches by default."""
    assert Verdict.CANNOT_TELL is compare_with_register(KNOWN, []).verdict


def test_a_register_without_figures_never_matches(stamp):
    """Where the register holds no figure there is nothing to match."""
    assert (
        Verdict.CANNOT_TELL is compare_with_register(Known((None, None, None)), [stamp()]).verdict
    )


def test_two_photos_are_put_together(stamp):
    """Figures on one photo and marks on another make one comparison."""
    front, back = stamp(marks=()), stamp(closed=None, cross=None, open=None, marks=ALL)
    comparison = compare_with_register(KNOWN, [front, back])
    assert Verdict.MATCHES is comparison.verdict
    assert ["mark", "mark"] == [i.field for i in comparison.items if i.registered in ALL]


def test_photos_that_contradict_each_other(stamp):
    """Two photos with different figures: never a match."""
    comparison = compare_with_register(KNOWN, [stamp(), stamp(closed=22)])
    assert Verdict.CANNOT_TELL is comparison.verdict

"""`verify`: matches, differs, cannot tell; exit 0, 1, 1."""

import pytest


@pytest.fixture
def pair(bench):
    """Two connectors that differ, in the register with labels A-1 and B-1."""
    bench.run("add", "--id", "A-1", "--figures", "27/8/7", "--marks", "CE 9123", "--serial", "S1")
    bench.run("add", "--id", "B-1", "--figures", "22/8/7", "--marks", "CE 9123")
    bench.photo(
        "a.jpg",
        {"closed": [27, "sure"], "cross": [8, "sure"], "open": [7, "sure"], "marks": ["CE 9123"]},
    )
    bench.photo(
        "b.jpg",
        {"closed": [22, "sure"], "cross": [8, "sure"], "open": [7, "sure"], "marks": ["CE 9123"]},
    )
    return bench


def test_the_right_one_matches(pair):
    """Figures and marks agree: matches, exit 0; what was not seen is told."""
    done = pair.run("verify", pair.photos / "a.jpg", "A-1")
    assert "A-1: matches the register" in done.stdout
    assert "serial" in done.stdout and "not seen" in done.stdout


def test_a_swapped_pair_differs(pair):
    """The other's photo: differs, with both values, exit 1."""
    done = pair.run("verify", pair.photos / "b.jpg", "A-1", expect=1)
    assert "A-1: DIFFERS from the register" in done.stdout
    (row,) = pair.json("verify", pair.photos / "b.jpg", "A-1", expect=1)
    assert "differs" == row["verdict"]
    closed = next(item for item in row["compared"] if item["field"] == "closed")
    assert ("27", "22", "differs") == (closed["registered"], closed["seen"], closed["verdict"])


CANNOT = {
    "blank": [],
    "one figure": [{"closed": [27, "sure"]}],
    "in doubt": [{"closed": [21, "ask", "WEAK_GLYPH"], "cross": [8, "sure"], "open": [7, "sure"]}],
    "two connectors": [{"closed": [27, "sure"]}, {"closed": [22, "sure"]}],
}


@pytest.mark.parametrize("stamps", CANNOT.values(), ids=CANNOT)
def test_cannot_tell(pair, stamps):
    """Nothing seen, not enough seen, seen in doubt, or two in one photo: cannot tell, exit 1."""
    photo = pair.photo("c.jpg", *stamps)
    (row,) = pair.json("verify", photo, "A-1", expect=1)
    assert "cannot tell" == row["verdict"]
    assert row["problems"] or any(item["why"] for item in row["compared"])


def test_a_label_of_another_differs(pair):
    """Whatever the stamp says, a label with another id beside it is a difference."""
    photo = pair.photo(
        "d.jpg", {"closed": [27, "sure"], "cross": [8, "sure"], "open": [7, "sure"]}, labels=["B-1"]
    )
    (row,) = pair.json("verify", photo, "A-1", expect=1)
    assert {
        "field": "label",
        "registered": "A-1",
        "seen": "B-1",
        "verdict": "differs",
        "why": None,
    } == row["compared"][0]


def test_twins_are_told(pair):
    """Where other connectors carry the same stamp, a match says that it cannot tell them apart."""
    pair.run("add", "--id", "B-2", "--figures", "22/8/7", "--marks", "CE 9123")
    done = pair.run("verify", pair.photos / "b.jpg", "B-1")
    assert "1 other connector would match as well (B-2)" in done.stdout


def test_two_photos_of_one(pair):
    """Figures on one photo and marks on the other are one comparison."""
    front = pair.photo("f.jpg", {"closed": [27, "sure"], "cross": [8, "sure"], "open": [7, "sure"]})
    back = pair.photo("g.jpg", {"marks": ["CE 9123"], "serial": "S1"})
    (row,) = pair.json("verify", front, back, "A-1")
    assert "matches" == row["verdict"]
    assert all(item["verdict"] == "matches" for item in row["compared"])


def test_an_unreadable_photo_never_matches(pair):
    """If one of the photos cannot be read the answer is not a match."""
    bad = pair.photo("bad.jpg", error="cannot read bad.jpg")
    (row,) = pair.json("verify", pair.photos / "a.jpg", bad, "A-1", expect=1)
    assert ("cannot tell", ["cannot read bad.jpg"]) == (row["verdict"], row["problems"])


def test_an_unknown_id(pair):
    """An id that is not in the register: one line, exit 1."""
    done = pair.run("verify", pair.photos / "a.jpg", "Z-9", expect=1)
    assert "no connector Z-9" in done.stderr
    assert [] == pair.read_photos()

"""The counts behind the README's figures, worked by hand on made-up readings."""

from measure import scores
from take_features import free_figures

CORNERS = [[0, 0], [90, 0], [90, 30], [0, 30]]


def truth(**changes):
    """A true connector of 27/8/7 kN."""
    return {
        "closed_kN": 27, "cross_kN": 8, "open_kN": 7, "marks": ["CE 9123"], "readable": True,
        "difficulty": "easy", "method": "laser", "panel": CORNERS, **changes,
    }  # fmt: skip


def read(closed, cross, open_kN, state="sure", at=0):
    """A reading with three figures, moved aside by `at` pixels."""
    box = [[x + at, y] for x, y in CORNERS]
    made = {
        slot: {"kN": kN, "state": state, "confidence": 0.9, "box": box}
        for slot, kN in (("closed", closed), ("cross", cross), ("open", open_kN))
    }
    return {"figures": made, "marks": [{"text": "CE 9123"}, {"text": "UIAA"}], "box": box}


def test_figures_triples_and_marks_are_counted():
    """Two of three right make no triple; a wrong sure one is counted; so is a mark too many."""
    got = scores([({"connectors": [truth()]}, {"connectors": [read("27", "8", "9")]})])["all"].row()
    assert round(got["figures right"]) == 67
    assert got["triples right"] == 0
    assert (got["sure"], got["sure and wrong"]) == (3, 1)
    assert (got["marks recall"], got["marks precision"]) == (100, 50)


def test_an_empty_slot_has_to_stay_empty():
    """A figure proposed where nothing is stamped spoils the triple; a silent blank is kept."""
    two = truth(open_kN=None)
    got = scores([({"connectors": [two]}, {"connectors": [read("27", "8", "7")]})])["all"].row()
    assert (got["figures right"], got["triples right"]) == (100, 0)
    blank = truth(readable=False, difficulty="unreadable")
    got = scores([({"connectors": [blank]}, {"connectors": []})])["all"].row()
    assert (got["blank kept"], got["blank silent"]) == (100, 100)


def test_readings_go_to_the_nearest_connector():
    """Two connectors in a photo, read in the other order."""
    far = truth(closed_kN=40, panel=[[x + 500, y] for x, y in CORNERS])
    row = {"connectors": [truth(), far]}
    record = {"connectors": [read("40", "8", "7", at=500), read("27", "8", "7")]}
    assert scores([(row, record)])["all"].row()["triples right"] == 100


def test_features_hold_free_figures_only():
    """Figures that are asked are left out; a stamp seen where none is counts as wrong."""
    row = {"photo": "a.jpg", "connectors": [truth()]}
    ghost = read("12", None, None, at=900)
    got = free_figures(row, {"connectors": [read("27", "8", "9"), ghost]})
    assert [[f["right"] for f in own["figures"]] for own in got] == [
        [True, True, False],
        [False],
    ]
    asked = free_figures(row, {"connectors": [read("27", "8", "7", state="ask")]})
    assert [own["figures"] for own in asked] == [[]]

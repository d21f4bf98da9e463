"""Which photos show the same connector."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stampreader.confirm import Taken, entry_of, match, parse_label, put_together
from stampreader.words import Arrival, Doubt, Reading, Stamp, State


@pytest.fixture
def photo(stamp):
    """Makes a photo that was read."""

    def made(number, count=1, labels=(), **told):
        stamps = tuple(stamp(**told) for _ in range(count))
        reading = Reading(f"{number}.jpg", f"{number:064x}", (9, 9), stamps, labels, ("tests 1",))
        return Taken(reading, tuple(f"crop {number} {n}" for n in range(max(1, count))))

    return made


def shape(matched):
    """Which photos and stamps were put together."""
    return [[(s.path, s.number) for s in m.seen] for m in matched]


def test_one_photo_each(photo):
    """Without labels each photo is a connector."""
    matched = match([photo(1), photo(2)])
    assert [[("1.jpg", 0)], [("2.jpg", 0)]] == shape(matched)
    assert "crop 1 0" == matched[0].seen[0].crop


def test_several_photos_each_in_file_order(photo):
    """With two photos a connector they go in pairs; an odd one is told."""
    matched = match([photo(n) for n in range(1, 6)], 2)
    assert [2, 2, 1] == [len(m.seen) for m in matched]
    assert ("Only 1 of 2 photos of it were taken.",) == matched[2].notes


def test_several_connectors_in_one_photo(photo):
    """A photo of three connectors gives three, each with its own crop."""
    matched = match([photo(1, count=3)])
    assert [[("1.jpg", 0)], [("1.jpg", 1)], [("1.jpg", 2)]] == shape(matched)
    assert "crop 1 2" == matched[2].seen[0].crop


def test_several_connectors_do_not_join_a_run(photo):
    """A photo of two connectors in a run of pairs is told, and spoils no other pair."""
    matched = match([photo(1), photo(2, count=2), photo(3), photo(4)], 2)
    assert [1, 1, 1, 2] == [len(m.seen) for m in matched]
    assert "shows several connectors" in matched[1].notes[0]


def test_a_label_joins_its_photos(photo):
    """Photos with the same label show one connector, wherever they stand in the files."""
    photos = [photo(1, labels=("KIT-1",)), photo(2), photo(3, labels=("STAMPREADER:KIT-1",))]
    matched = match(photos)
    assert [[("1.jpg", 0), ("3.jpg", 0)], [("2.jpg", 0)]] == shape(matched)
    assert ["KIT-1", None] == [m.label for m in matched]


def test_a_label_beside_a_blank_connector(photo):
    """A photo without a stamp but with a label still belongs to that connector."""
    (matched,) = match([photo(1, count=0, labels=("KIT-1",))])
    assert ("KIT-1", Stamp()) == (matched.label, matched.seen[0].stamp)


@pytest.mark.parametrize(
    ("count", "labels"), [(1, ("KIT-1", "KIT-2")), (2, ("KIT-1",))], ids=["labels", "connectors"]
)
def test_labels_are_not_guessed(photo, count, labels):
    """Several labels, or several connectors beside one label: no id is given, and that is told."""
    for matched in match([photo(1, count=count, labels=labels)]):
        assert matched.label is None
        assert "not used" in matched.notes[0]


@pytest.mark.parametrize(
    ("text", "id"),
    [
        ("STAMPREADER:TM-0042", "TM-0042"),
        ("TM-0042", "TM-0042"),
        ("STAMPREADER:", None),
        ("STAMPREADER:../../etc/passwd", None),
        ("STAMPREADER:-rf", None),
        ("https://maker.example/9", None),
        ("STAMPREADER:a b", None),
        ("STAMPREADER:" + "9" * 41, None),
        ("Felsnase", None),
        ("STAMPREADER:1\n2", None),
    ],
)
def test_only_ids_are_taken_from_labels(text, id):
    """Whatever else a QR code holds is not an id."""
    assert id == parse_label(text)


@given(st.text())
def test_no_label_text_crashes(text):
    """Any text of a QR code gives an id of harmless characters or none."""
    id = parse_label(text)
    assert id is None or (id.isascii() and not set(id) & set(" \t\r\n'\"$`;|&<>\\"))


def test_figures_from_two_photos(stamp):
    """Each figure comes from the photo that shows it best; different values are asked about."""
    best = put_together([stamp(closed=(27, "ask", "ONE_READER"), open=None), stamp(cross=None)])
    assert [State.SURE] * 3 == [best.closed.state, best.cross.state, best.open.state]
    both = put_together([stamp(), stamp(closed=22)])
    assert State.ASK is both.closed.state
    assert Doubt.TWO_VALUES in both.closed.doubts


def test_marks_and_serials_from_two_photos(stamp):
    """Marks of both sides are united; two serial numbers are told."""
    whole = put_together([stamp(marks=("UIAA",), serial="A1"), stamp(serial="A2")])
    assert ["CE 9123", "UIAA"] == [m.text for m in whole.marks]
    assert ("Two serial numbers were read: A1 and A2.",) == whole.notes


def test_an_arrival_without_photos_is_blank():
    """Nothing was seen: nothing is proposed."""
    assert (None, None, None) == entry_of(Arrival(1, "d")).values

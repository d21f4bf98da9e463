"""Arrivals: waiting, confirmed, set aside, undone; once each, with the evidence."""

import pytest

from stampreader.errors import RefusedStep, UsageError
from stampreader.register import (
    Filter,
    Kind,
    Life,
    add_arrival,
    add_photos,
    arrival_of_photo,
    change_setting,
    check_register,
    confirm_arrivals,
    connectors_on,
    find_connector,
    find_reading,
    list_connectors,
    read_crop,
    set_aside,
    undo_last,
    waiting,
    waiting_with_label,
)
from stampreader.words import Sighting

FIELDS = {"closed_kN": "27", "cross_kN": "8", "open_kN": None, "marks": ["CE 9123"]}


def confirm(register, arrivals, clock, **fields):
    """Confirm arrivals with the same fields."""
    return confirm_arrivals(
        register, [(a, {**FIELDS, **fields}) for a in arrivals], who="Ada", at=clock()
    )


def test_an_arrival_comes_back_as_it_was_read(register, arrive, stamp):
    """The reading is stored without loss: figures, states, doubts, marks, boxes, serial."""
    (arrival,) = arrive(register, serial="A 77")
    assert stamp(serial="A 77") == arrival.seen[0].stamp
    assert ("Spring", "in/0.jpg") == (arrival.delivery, arrival.seen[0].path)


def test_confirmed_arrivals_are_entered(register, arrive, clock):
    """Each gets the next free id, the confirmed figures, the delivery, its photo and crop."""
    confirm(register, arrive(register, 3), clock)
    assert ["C-0001", "C-0002", "C-0003"] == [c.id for c in list_connectors(register)]
    connector = find_connector(register, "C-0002")
    assert ("27", None, "Spring") == (
        str(connector.closed_kN),
        connector.open_kN,
        connector.delivery,
    )
    ((photo, number, crop),) = connector.photos
    assert (f"{1:064x}", 0) == (photo, number)
    assert b"picture 1" == read_crop(register, crop).picture
    assert [] == waiting(register)


def test_raw_values_stand_beside_the_confirmed_ones(register, arrive, clock):
    """The history keeps what the readers saw, with state, confidence and doubts."""
    confirm(register, arrive(register), clock, closed_kN="28")
    (event,) = register.history(find_connector(register, "C-0001").uid)
    assert "28" == event.body["fields"]["closed_kN"]
    raw = event.body["read"][0]["raw"]["figures"]
    assert {"kN": "27", "state": "sure", "confidence": "0.9876", "doubts": []} == raw["closed"]
    assert ["ONE_READER"] == raw["open"]["doubts"]
    assert "tests 1" == event.body["read"][0]["readers"]


def test_an_arrival_is_confirmed_once(register, arrive, clock):
    """Confirming the same arrival in two windows enters it once."""
    arrivals = arrive(register, 2)
    confirm(register, arrivals[:1], clock)
    with pytest.raises(RefusedStep, match="was decided meanwhile"):
        confirm(register, arrivals, clock)
    assert 1 == len(list_connectors(register))
    assert 1 == len(waiting(register))


def test_a_photo_belongs_to_one_arrival(register, arrive, clock):
    """The same stamp of the same photo cannot be put on the list twice."""
    (arrival,) = arrive(register)
    with pytest.raises(Exception, match="UNIQUE"):
        add_arrival(register, "Autumn", arrival.seen, at=clock())
    assert 1 == len(waiting(register))
    assert "Spring" == arrival_of_photo(register, arrival.seen[0].photo)[0]["delivery"]


def test_undo_withdraws_a_whole_group(register, arrive, clock):
    """Undo takes back all that one answer entered; the entries stay in the history."""
    arrivals = arrive(register, 3)
    confirm(register, arrivals[:1], clock)
    confirm(register, arrivals[1:], clock)
    undone = undo_last(register, "Spring", who="Ada", at=clock())
    assert ("C-0002", "C-0003") == undone.ids
    assert [a.key for a in arrivals[1:]] == [a.key for a in waiting(register)]
    assert ["C-0001"] == [c.id for c in list_connectors(register)]
    withdrawn = list_connectors(register, Filter(life=(Life.WITHDRAWN,)))
    assert ["C-0002", "C-0003"] == [c.id for c in withdrawn]
    assert [] == list(check_register(register))


def test_undone_ids_are_given_again(register, arrive, clock):
    """What is confirmed again after an undo gets the same id, and is found by it."""
    arrivals = arrive(register, 1)
    confirm(register, arrivals, clock)
    undo_last(register, who="Ada", at=clock())
    confirm(register, waiting(register), clock, maker="Felsnase")
    assert "Felsnase" == find_connector(register, "C-0001").maker
    assert 1 == len(connectors_on(register, f"{0:064x}"))


def test_undo_step_by_step(register, arrive, clock):
    """Undo goes back one answer at a time, whatever kind it was, until nothing is left."""
    arrivals = arrive(register, 2)
    confirm(register, arrivals[:1], clock)
    set_aside(register, arrivals[1:], reason="a key ring", who="Ada", at=clock())
    assert ((arrivals[1].key,), ()) == (
        (first := undo_last(register, who="Ada", at=clock())).arrivals,
        first.ids,
    )
    assert ("C-0001",) == undo_last(register, who="Ada", at=clock()).ids
    assert undo_last(register, who="Ada", at=clock()) is None
    assert 2 == len(waiting(register))


def test_undo_keeps_to_its_delivery(register, arrive, clock):
    """Undo in one delivery does not touch the latest decision of another."""
    confirm(register, arrive(register, 1, "Spring"), clock)
    confirm(register, arrive(register, 1, "Autumn", first=1), clock)
    assert ("C-0001",) == undo_last(register, "Spring", who="Ada", at=clock()).ids


def test_what_has_gone_on_is_not_undone(register, arrive, clock):
    """Once something else was recorded of a connector, its entry is corrected, not undone."""
    confirm(register, arrive(register), clock)
    uid = find_connector(register, "C-0001").uid
    register.record(Kind.PUT_IN_SERVICE, uid, {}, who="Ada", at=clock())
    with pytest.raises(RefusedStep, match="has more in its history"):
        undo_last(register, who="Ada", at=clock())
    assert Life.IN_SERVICE is find_connector(register, "C-0001").life


def test_set_aside_is_a_decision_in_the_history(register, arrive, clock):
    """Setting aside is recorded with the reason and the photos; nothing is entered."""
    arrivals = arrive(register)
    event = set_aside(register, arrivals, reason="blurred twin", who="Ada", at=clock())
    assert "blurred twin" == event.body["reason"]
    assert [] == waiting(register) == list_connectors(register)
    (row,) = register.rows("SELECT decision, who FROM decisions")
    assert {"decision": "set-aside", "who": "Ada"} == row


def test_labels_become_ids(register, arrive, clock):
    """The id on a label is taken; a taken one is refused and nothing is entered."""
    confirm(register, arrive(register, label="KIT-7"), clock)
    assert "KIT-7" == find_connector(register, "kit-7").id
    again = arrive(register, first=1, label="KIT-7")
    with pytest.raises(RefusedStep, match="KIT-7 is taken"):
        confirm(register, again, clock)
    assert again[0].key == waiting_with_label(register, "kit-7")


def test_more_photos_of_a_waiting_connector(register, arrive, clock):
    """Photos taken later of a labelled connector are added to the one that waits."""
    (first,) = arrive(register, label="KIT-7")
    (other,) = arrive(register, first=1)
    set_aside(register, [other], reason="", who="Ada", at=clock())
    with pytest.raises(RefusedStep):
        add_photos(register, other.key, first.seen)
    seen = other.seen[0]
    more = Sighting(seen.photo, 1, seen.stamp, seen.readers, seen.crop, seen.path)
    add_photos(register, first.key, [more])
    assert 2 == len(waiting(register)[0].seen)


def test_ids_follow_the_prefix(register, arrive, clock):
    """The prefix is a setting; numbers go on after the highest, past 9999 too."""
    change_setting(register, "id_prefix", "TM-", who="Ada", at=clock())
    arrivals = arrive(register, 3)
    confirm(register, arrivals[:1], clock, id="TM-9999")
    confirm(register, arrivals[1:2], clock, id="TM-OLD")
    confirm(register, arrivals[2:], clock)
    assert ["TM-9999", "TM-10000", "TM-OLD"] == [c.id for c in list_connectors(register)]


def test_a_wrong_field_enters_nothing(register, arrive, clock):
    """A value no connector can have is refused for the whole answer."""
    arrivals = arrive(register, 2)
    answers = [(arrivals[0], FIELDS), (arrivals[1], {**FIELDS, "closed_kN": "0"})]
    with pytest.raises(UsageError):
        confirm_arrivals(register, answers, who="Ada", at=clock())
    assert [] == list_connectors(register)
    assert 2 == len(waiting(register))


def test_a_reading_is_found_by_content_and_reader(register, arrive):
    """The same photo and the same reader version: the stored reading; else none."""
    arrive(register)
    assert find_reading(register, f"{0:064x}", "tests 1") is not None
    assert find_reading(register, f"{0:064x}", "tests 2") is None
    assert find_reading(register, f"{5:064x}", "tests 1") is None


def test_an_altered_picture_is_not_shown(register, arrive):
    """A crop whose bytes no longer fit its name is refused, not shown as evidence."""
    (arrival,) = arrive(register)
    register.db.conn.execute("DROP TRIGGER crops_are_not_changed")
    register.db.conn.execute("UPDATE crops SET picture = x'00'")
    with pytest.raises(Exception, match="was altered"):
        read_crop(register, arrival.seen[0].crop)
    with pytest.raises(Exception, match="is not in this register"):
        read_crop(register, "0" * 64)

"""Inspections: the result follows from the points; what fails is quarantined or retired."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stampreader.errors import RefusedStep, UsageError
from stampreader.register import (
    Crop,
    Inspection,
    Kind,
    Life,
    Point,
    Result,
    check_register,
    keep_reading,
    read_crop,
    record_inspections,
    retire,
)
from stampreader.words import Figure, Mark, Reading, Sighting, Stamp, State

PASS, FAIL, NONE = Result.PASS, Result.FAIL, Result.NOT_APPLICABLE


@given(st.lists(st.sampled_from(Result), min_size=1, max_size=20))
def test_any_fail_is_a_fail(results):
    """The result is fail exactly if one point fails, whatever else was found."""
    inspection = Inspection([Point(f"point {n}", r) for n, r in enumerate(results)], {})
    assert inspection.result is (FAIL if FAIL in results else PASS)


def test_a_pass_renews_the_interval(shelf):
    """After a passed inspection the next one counts from its day; it stays in service."""
    shelf.enter("C-1", in_service="2024-01-01")
    shelf.inspect("C-1", on="2025-03-01")
    connector = shelf.get("C-1")
    assert (Life.IN_SERVICE, "2025-03-01", "2025-03-01") == (
        connector.life, connector.inspected_on, connector.due_from_on,
    )  # fmt: skip


def test_a_fail_quarantines_with_what_was_found(shelf):
    """The state's reason names the points that failed with their notes; the interval stays."""
    shelf.enter("C-1", in_service="2024-01-01")
    shelf.inspect("C-1", "fail", point="gate: rivet sound", note="turns with the gate")
    connector = shelf.get("C-1")
    assert Life.QUARANTINED is connector.life
    assert "inspection failed: gate: rivet sound (turns with the gate)" == connector.life_reason
    assert "" == connector.inspected_on


def test_a_fail_may_retire_at_once(shelf):
    """The user retires what fails instead: both events in one transaction, the sound ones stay."""
    for id in ("C-1", "C-2"):
        shelf.enter(id, in_service="2024-01-01")
    good = Inspection([Point("body: no cracks", PASS)], {})
    bad = Inspection([Point("body: no cracks", FAIL, "at the nose")], {})
    events = record_inspections(
        shelf.book,
        [(shelf.get("C-1"), good), (shelf.get("C-2"), bad)],
        retire_because="cracked",
        **shelf.told(),
    )
    assert [Kind.INSPECTED, Kind.INSPECTED, Kind.RETIRED] == [e.kind for e in events]
    assert (Life.IN_SERVICE, Life.RETIRED) == (shelf.get("C-1").life, shelf.get("C-2").life)
    assert "cracked" == shelf.get("C-2").life_reason


def test_a_retired_one_is_not_inspected_back_to_life(shelf):
    """Refused with the reason, and the others of the same call are not recorded either."""
    for id in ("C-1", "C-2"):
        shelf.enter(id, in_service="2024-01-01")
    retire(shelf.book, [shelf.get("C-2")], "worn", **shelf.told())
    before = shelf.events()
    good = Inspection([Point("body: no cracks", PASS)], {})
    with pytest.raises(RefusedStep, match="C-2: it is retired for good and cannot be inspected"):
        record_inspections(
            shelf.book, [(shelf.get("C-1"), good), (shelf.get("C-2"), good)], **shelf.told()
        )
    assert before == shelf.events()


def test_a_quarantined_one_that_passes_stays_quarantined(shelf):
    """A passed inspection is no release: that is another person's word."""
    shelf.enter("C-1", in_service="2024-01-01")
    shelf.inspect("C-1", "fail")
    shelf.inspect("C-1", "pass")
    assert Life.QUARANTINED is shelf.get("C-1").life


def test_points_measurements_and_notes_are_kept(shelf):
    """Everything found is in the event, measurements as text with their unit."""
    shelf.enter("C-1", in_service="2024-01-01")
    inspection = Inspection(
        [Point("body: wear grooves within limits", PASS, "  light "), Point("lock: threads", NONE)],
        {"groove": "0.4 mm", "play of the gate": "1 mm"},
        note="cleaned\nand oiled",
        occasion="after a fall",
    )
    (event,) = record_inspections(shelf.book, [(shelf.get("C-1"), inspection)], **shelf.told())
    assert {
        "result": "pass",
        "points": [
            {"point": "body: wear grooves within limits", "result": "pass", "note": "light"},
            {"point": "lock: threads", "result": "not applicable"},
        ],
        "measured": {"groove": "0.4 mm", "play of the gate": "1 mm"},
        "note": "cleaned and oiled",
        "occasion": "after a fall",
    } == event.body


@pytest.mark.parametrize("points", [[], [Point("lock: threads", NONE)]], ids=["none", "none apply"])
def test_an_inspection_looks_at_something(shelf, points):
    """Without a point that was looked at there is no inspection."""
    connector = shelf.enter("C-1")
    with pytest.raises(UsageError, match="no point was looked at"):
        record_inspections(shelf.book, [(connector, Inspection(points, {}))], **shelf.told())


@pytest.mark.parametrize("measured", [{"": "1 mm"}, {"groove": " "}, {"groove": "x" * 61}])
def test_a_measurement_has_a_name_and_a_value(shelf, measured):
    """Half a measurement is refused."""
    connector = shelf.enter("C-1")
    with pytest.raises(UsageError):
        record_inspections(
            shelf.book, [(connector, Inspection([Point("a", PASS)], measured))], **shelf.told()
        )


def test_photos_are_evidence_of_the_inspection(shelf):
    """Photo, crop, raw reading and verdict stand in the event; the crop is among its pictures."""
    shelf.enter("C-1", in_service="2024-01-01")
    stamp = Stamp(Figure(Decimal(22), State.SURE, 0.99), marks=(Mark("CE 9123"),))
    sha = "ab" * 32
    reading = Reading("in/1.jpg", sha, (640, 480), (stamp,), readers=("tests 1",))
    crop = Crop(sha, 0, "image/jpeg", b"a picture")
    keep_reading(shelf.book, reading, [crop], at=shelf.now())
    seen = Sighting(sha, 0, stamp, "tests 1", crop.sha256, "in/1.jpg")
    inspection = Inspection(
        [Point("marks: as in the register", FAIL, "27 reads 22")], {}, seen=[seen],
        verdicts=["differs"],
    )  # fmt: skip
    (event,) = record_inspections(shelf.book, [(shelf.get("C-1"), inspection)], **shelf.told())
    (read,) = event.body["read"]
    assert (sha, "differs", "22") == (
        read["photo"], read["verdict"], read["raw"]["figures"]["closed"]["kN"],
    )  # fmt: skip
    ((_, _, kept),) = shelf.get("C-1").photos
    assert b"a picture" == read_crop(shelf.book, kept).picture
    assert [] == list(check_register(shelf.book))


def test_a_missing_evidence_picture_is_found_by_the_check(shelf):
    """The check names the connector whose inspection lost its picture."""
    shelf.enter("C-1", in_service="2024-01-01")
    seen = Sighting("ab" * 32, 0, Stamp(), "tests 1", "cd" * 32, "in/1.jpg")
    inspection = Inspection([Point("a", PASS)], {}, seen=[seen], verdicts=["matches"])
    record_inspections(shelf.book, [(shelf.get("C-1"), inspection)], **shelf.told())
    assert ["the evidence picture cdcdcdcdcdcd of C-1 is missing"] == list(
        check_register(shelf.book)
    )

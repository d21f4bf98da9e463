"""The JSON forms: the printed line keeps its contract, the record loses nothing."""

import json
from decimal import Decimal
from pathlib import Path

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stampreader.cli.common import plain
from stampreader.reading import as_line, as_record, from_record
from stampreader.words import Doubt, Figure, Mark, Reading, Stamp, State

BOX = ((1.0, 2.0), (31.0, 2.0), (31.0, 12.0), (1.0, 12.0))
SCHEMA = json.loads(
    (Path(__file__).parents[2] / "schema" / "reading.schema.json").read_text("utf-8")
)
STAMP = Stamp(
    Figure(Decimal("27"), State.SURE, 0.998, BOX),
    Figure(Decimal("8.5"), State.ASK, 0.7, BOX, (Doubt.ONE_READER, Doubt.UNIT_MISSING)),
    Figure(doubts=(Doubt.NOT_SEEN,)),
    (Mark("CE 9123", 0.97, BOX),),
    "A-4711",
    ("A note.",),
    12.5,
    BOX,
)


def reading(*stamps):
    """A reading of a photo with some stamps."""
    return Reading(
        "bench/a.jpg",
        "ab" * 32,
        (4000, 3000),
        stamps,
        ("SR-0001",),
        ("net 1", "line 2"),
        ("About the photo.",),
        0.3142,
        "2026-05-01T09:30:00",
    )


def printed(of):
    """The line as another program gets it."""
    line = json.loads(json.dumps(plain(as_line(of))))
    jsonschema.validate(line, SCHEMA)
    return line


def test_contract_of_one_connector():
    """Every field of the contract, whole strengths as integers, boxes as four points."""
    line = printed(reading(STAMP))
    assert ("bench/a.jpg", "ab" * 32, "none") == (line["photo"], line["sha256"], line["outcome"])
    assert (27, 8.5, None) == (line["closed_kN"], line["cross_kN"], line["open_kN"])
    assert isinstance(line["closed_kN"], int)
    assert {
        "kN": 27,
        "state": "sure",
        "confidence": 0.998,
        "box": [[1.0, 2.0], [31.0, 2.0], [31.0, 12.0], [1.0, 12.0]],
        "doubts": [],
    } == line["figures"]["closed"]
    assert ["one_reader", "unit_missing"] == line["figures"]["cross"]["doubts"]
    assert [("CE 9123", 0.97)] == [(m["text"], m["confidence"]) for m in line["marks"]]
    assert ["About the photo.", "A note."] == line["notes"]
    assert 0.314 == line["seconds"]
    assert "connectors" not in line


def test_several_connectors():
    """With several connectors the top speaks of the first, and the outcome is the worst."""
    second = Stamp(Figure(Decimal(22), State.SURE, 0.99, BOX))
    line = printed(reading(second, STAMP))
    assert (22, "none") == (line["closed_kN"], line["outcome"])
    assert [22, 27] == [c["closed_kN"] for c in line["connectors"]]
    assert ["sure", "none"] == [c["outcome"] for c in line["connectors"]]


def test_empty_reading():
    """A photo without a stamp still has every field."""
    line = printed(reading())
    assert (None, "none", []) == (line["closed_kN"], line["outcome"], line["marks"])


def test_failure_is_in_the_schema():
    """An unreadable photo's object has its path, the message and a stable word."""
    jsonschema.validate({"photo": "a.jpg", "error": "It is empty.", "kind": "photo"}, SCHEMA)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({"photo": "a.jpg"}, SCHEMA)


@pytest.mark.parametrize("stamps", [(), (STAMP,), (STAMP, Stamp())], ids=["none", "one", "two"])
def test_record_comes_back_the_same(stamps):
    """What is kept as JSON is the same reading again."""
    kept = json.loads(json.dumps(plain(as_record(reading(*stamps)))))
    back = from_record(kept)
    assert reading(*stamps).stamps == back.stamps
    assert (reading().labels, reading().readers, reading().taken_on) == (
        back.labels,
        back.readers,
        back.taken_on,
    )


@given(
    st.decimals(min_value="0.1", max_value="999", places=2),
    st.sampled_from(State),
    st.lists(st.sampled_from(Doubt), unique=True),
)
def test_figures_come_back_as_stamped(kN, state, doubts):
    """Any strength keeps its digits, trailing zeros too, and any doubt its name."""
    figure = Figure(kN, state, 0.5, BOX, tuple(doubts))
    kept = json.loads(json.dumps(plain(as_record(reading(Stamp(figure))))))
    back = from_record(kept).stamps[0].closed
    assert (figure, str(kN)) == (back, str(back.kN))

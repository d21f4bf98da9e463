"""The exchange file: a whole register out and in again, and every way it can be spoilt."""

from __future__ import annotations

import base64
import hashlib
import json
from datetime import timedelta
from pathlib import Path

import jsonschema
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stampreader.errors import ImportRefused
from stampreader.register import (
    Kind,
    add_by_hand,
    check_register,
    confirm_arrivals,
    correct_entry,
    export_lines,
    find_connector,
    import_lines,
    keep_order,
    list_conflicts,
    open_register,
    set_aside,
    waiting,
)
from stampreader.register.evidence import Crop, keep_crop

ROOT = Path(__file__).resolve().parents[2]
SCHEMA = json.loads((ROOT / "schema" / "exchange.schema.json").read_text("utf-8"))
JPEG = b"\xff\xd8 as good as a picture"


@pytest.fixture
def full(register, arrive, clock, enter, record):
    """A register that holds something of every kind."""
    arrive(register, count=3)
    first, second, _ = waiting(register)
    confirm_arrivals(
        register, [(first, {"closed_kN": "27", "marks": ["CE 9123"]})], who="Ada", at=clock()
    )
    set_aside(register, [second], reason="blurred", who="Ada", at=clock())
    keep_order(register, "Spring", [{"count": 3}], who="Ada", at=clock())
    uid = enter(register, "H-1", maker="Felsnase Ü")
    record(register, Kind.PUT_IN_SERVICE, uid, place="Kit 2")
    record(register, Kind.INSPECTED, uid, result="pass", measured={"groove": "0.3 mm"})
    correct_entry(
        register,
        find_connector(register, "H-1"),
        {"cross_kN": "8.5"},
        why="seen",
        who="Ada",
        at=clock(),
    )
    keep_crop(register, Crop(f"{0:064x}", 0, "image/jpeg", JPEG))
    return register


def _sealed(values):
    """Lines of an exchange file with a right end, from values."""
    lines = [json.dumps(value, ensure_ascii=False).encode() + b"\n" for value in values]
    end = {
        "type": "end",
        "lines": len(lines),
        "sha256": hashlib.sha256(b"".join(lines)).hexdigest(),
    }
    return [*lines, json.dumps(end).encode() + b"\n"]


def _exported(register, clock):
    """An exchange file as bytes; the pictures of the fixtures are made JPEG-like."""
    return [line.encode("utf-8") for line in export_lines(register, at=clock())]


def _values(register, clock):
    return [json.loads(line) for line in _exported(register, clock)][:-1]


@pytest.fixture
def spoilable(full, clock):
    """The values of an exchange file, pictures of the fixtures replaced by the JPEG-like one."""
    kept = []
    for value in _values(full, clock):
        if value["type"] == "crop" and base64.b64decode(value["picture"]) != JPEG:
            continue
        kept.append(value)
    return kept


@pytest.fixture
def empty(tmp_path):
    """Another register, empty."""
    with open_register(tmp_path / "empty.sqlite", create=True) as book:
        yield book


def _import(register, lines, clock, **options):
    return import_lines(register, lines, source="x.jsonl", who="Mel", at=clock(), **options)


def _of(values, kind):
    return next(value for value in values if value["type"] == kind)


def test_every_line_is_as_the_schema_says(full, clock):
    """Each line of an export validates against the published JSON Schema (jsonschema library)."""
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    validator = jsonschema.Draft202012Validator(SCHEMA)
    kinds = set()
    for value in [json.loads(line) for line in _exported(full, clock)]:
        assert [] == [error.message for error in validator.iter_errors(value)]
        kinds.add(value["type"])
    assert {"header", "event", "photo", "reading", "crop", "connector", "end"} == kinds


def test_hash_is_what_the_schema_describes(full, clock):
    """An event's hash can be worked out by another program: SHA-256 of sorted compact JSON."""
    for value in (v for v in _values(full, clock) if v["type"] == "event"):
        content = {k: v for k, v in value.items() if k not in ("type", "event", "hash")}
        text = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        assert value["hash"] == hashlib.sha256(text.encode("utf-8")).hexdigest()


def test_out_and_in_again_is_the_same_register(spoilable, empty, clock):
    """An empty register that imports an export gives the same export again."""
    merged = _import(empty, _sealed(spoilable), clock)
    assert (7, ("H-1",), 1) == (merged.events, merged.entered[-1:], merged.pictures)
    again = _values(empty, clock)
    assert [v for v in spoilable[1:]] == again[1:]
    missing = [fault for fault in check_register(empty) if "is missing" not in fault]
    assert [] == missing


def test_same_register_same_lines(full, clock):
    """Two exports at the same moment are the same, byte for byte."""
    at = clock()
    assert list(export_lines(full, at=at)) == list(export_lines(full, at=at))


def test_importing_twice_changes_nothing(spoilable, empty, clock):
    """The second time there is nothing new."""
    _import(empty, _sealed(spoilable), clock)
    before = empty.rows("SELECT * FROM connectors")
    again = _import(empty, _sealed(spoilable), clock)
    assert (0, 0, ()) == (again.events, again.pictures, again.entered)
    assert before == empty.rows("SELECT * FROM connectors")


def test_a_rehearsal_stores_nothing(spoilable, empty, clock):
    """A dry run tells what would come, and the register stays empty."""
    told = _import(empty, _sealed(spoilable), clock, rehearse=True)
    assert 7 == told.events
    assert [] == empty.rows("SELECT 1 FROM events")


def test_import_into_a_register_that_went_on(spoilable, full, clock, record):
    """An older export of one's own register brings nothing, and takes nothing away."""
    record(full, Kind.MOVED, find_connector(full, "H-1").uid, place="Kit 3")
    assert 0 == _import(full, _sealed(spoilable), clock).events
    assert "Kit 3" == find_connector(full, "H-1").place


def _without_last(lines):
    return lines[:-1]


CUTS = {
    "nothing": (lambda lines: [], "the file is empty"),
    "header only": (lambda lines: lines[:1], "cut short after line 1"),
    "no end": (_without_last, "cut short"),
    "half a line": (lambda lines: [*lines[:4], lines[4][:40]], "line 5: is no JSON"),
    "a line left out": (lambda lines: [*lines[:5], *lines[6:]], "."),
    "a line twice": (lambda lines: [*lines[:5], lines[4], *lines[5:]], "."),
    "something behind": (lambda lines: [*lines, b"{}\n"], "line"),
    "header twice": (lambda lines: [lines[0], *lines], "."),
    "bad UTF-8": (lambda lines: [lines[0], b'{"type":"event","who":"\xff"}\n'], "line 2: is no JSON"),
    "not a number": (lambda lines: [lines[0], b'{"type":"event","number":NaN}\n'], "line 2: is no JSON"),
    "deep": (lambda lines: [lines[0], b"[" * 200_000 + b"\n"], "line 2"),
    "a list": (lambda lines: [lines[0], b"[1,2]\n"], "no object with a type"),
    "a picture file": (lambda lines: [b"\x89PNG\r\n\x1a\n", b"\x00\x01"], "line 1"),
    "other JSON": (lambda lines: [b'{"type":"book"}\n'], "no exchange file"),
    "unknown line": (lambda lines: [lines[0], b'{"type":"cake"}\n', *lines[1:]], "no kind of line"),
    "altered text": (
        lambda lines: [line.replace(b"Felsnase", b"Felsnasa") for line in lines],
        "altered",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("spoil", "said"), CUTS.values(), ids=CUTS)
def test_a_spoilt_file_is_refused_whole(spoilable, empty, clock, spoil, said):
    """Cut short, shuffled, altered, or something else: one line, and nothing is imported."""
    with pytest.raises(ImportRefused, match=said) as caught:
        _import(empty, spoil(_sealed(spoilable)), clock)
    assert "\n" not in caught.value.line()
    assert [] == empty.rows("SELECT 1 FROM events UNION ALL SELECT 1 FROM photos")


@settings(
    max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.data())
def test_any_flipped_byte_is_noticed(spoilable, empty, clock, data):
    """Whatever byte of the file is changed, the import is refused and the register untouched."""
    lines = _sealed(spoilable)
    whole = b"".join(lines)
    place = data.draw(st.integers(0, len(whole) - 2))
    bit = data.draw(st.integers(0, 6))
    spoilt = whole[:place] + bytes([whole[place] ^ (1 << bit)]) + whole[place + 1 :]
    with pytest.raises(ImportRefused):
        _import(empty, spoilt.splitlines(keepends=True), clock)
    assert [] == empty.rows("SELECT 1 FROM events")


@settings(
    max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.integers(1, 100_000))
def test_cut_anywhere_is_noticed(spoilable, empty, clock, keep):
    """A file of which only the beginning was copied is refused."""
    whole = b"".join(_sealed(spoilable))
    part = whole[: keep % (len(whole) - 1)]
    with pytest.raises(ImportRefused):
        _import(empty, part.splitlines(keepends=True), clock)
    assert [] == empty.rows("SELECT 1 FROM events")


def _changed(values, kind, changes):
    return [{**value, **changes} if value is _of(values, kind) else value for value in values]


WRONG = {
    "newer form": ("header", {"version": 2}, "reads form 1"),
    "other format": ("header", {"format": "gear list"}, "no exchange file"),
    "kind": ("event", {"kind": "stolen"}, "line 2"),
    "number as text": ("event", {"number": "1"}, "station or number"),
    "no body": ("event", {"body": None}, "body"),
    "no list": ("event", {"after": None}, "line 2"),
    "hash": ("event", {"hash": "0" * 64}, "altered"),
    "photo name": ("photo", {"name": 7}, "its name"),
    "photo width": ("photo", {"width_px": "wide"}, "its width_px"),
    "photo key": ("photo", {"sha256": "abc"}, "SHA-256"),
    "reading body": ("reading", {"body": {"stamps": 1}}, "its reading is not understood"),
    "reading of no photo": ("reading", {"photo": "f" * 64}, "missing photo"),
    "picture not base64": ("crop", {"picture": "%%%"}, "base64"),
    "picture altered": ("crop", {"picture": base64.b64encode(b"\xff\xd8x").decode()}, "was altered"),
    "picture of what": ("crop", {"media": "image/svg+xml"}, "neither JPEG nor PNG"),
    "picture is none": ("crop", {"picture": base64.b64encode(b"<svg>").decode()}, "neither JPEG"),
}  # fmt: skip


@pytest.mark.parametrize(("kind", "changes", "said"), WRONG.values(), ids=WRONG)
def test_wrong_values_are_refused_with_their_line(spoilable, empty, clock, kind, changes, said):
    """A file well sealed but wrong inside: refused whole, saying what and where."""
    with pytest.raises(ImportRefused, match=said):
        _import(empty, _sealed(_changed(spoilable, kind, changes)), clock)
    assert [] == empty.rows("SELECT 1 FROM events")


@pytest.mark.parametrize(("kind", "changes", "said"), WRONG.values(), ids=WRONG)
def test_what_the_schema_forbids_is_refused(spoilable, kind, changes, said):
    """Of the wrong values above, all that the schema can tell are invalid by the schema too."""
    beyond = {
        "altered",
        "missing photo",
        "its reading is not understood",
        "base64",
        "was altered",
        "neither JPEG",
    }
    validator = jsonschema.Draft202012Validator(SCHEMA)
    wrong = {**_of(spoilable, kind), **changes}
    if said not in beyond:
        assert not validator.is_valid(wrong)


def test_export_import_is_a_merger(register, empty, enter, clock):
    """Two stations may exchange files instead of registers: conflicts are listed the same way."""
    enter(register, "C-0001")
    add_by_hand(empty, {"id": "C-0001"}, who="Ben", at=clock() + timedelta(hours=1))
    merged = _import(empty, _exported(register, clock), clock)
    (conflict,) = merged.fresh
    assert "2 connectors carry the id C-0001" in conflict.text
    assert merged.conflicts == list_conflicts(empty)

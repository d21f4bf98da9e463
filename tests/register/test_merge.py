"""Merging stations that worked apart: the laws, the conflicts, and what is refused."""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stampreader.errors import ImportRefused, RefusedStep, RegisterError
from stampreader.register import (
    Kind,
    add_by_hand,
    change_setting,
    check_register,
    confirm_arrivals,
    correct_entry,
    find_connector,
    list_conflicts,
    list_connectors,
    merge_registers,
    open_register,
    read_crop,
    read_settings,
    waiting,
)
from stampreader.register.events import sealed, stamp_time
from stampreader.register.merge import unite
from stampreader.register.store import event_of

START = datetime(2026, 1, 1, tzinfo=UTC)


def _content(register):
    """Everything a merger speaks of: events, present state, evidence, conflicts."""
    ordered = {
        "events": "SELECT station, number, hash FROM events ORDER BY 1, 2",
        "connectors": "SELECT * FROM connectors ORDER BY uid",
        "marks": "SELECT * FROM connector_marks ORDER BY 1, 2",
        "photos": "SELECT * FROM connector_photos ORDER BY 1, 2, 3",
        "kept": "SELECT sha256 FROM photos ORDER BY 1",
        "readings": "SELECT photo, readers FROM readings ORDER BY 1, 2",
        "crops": "SELECT * FROM crops ORDER BY sha256",
    }
    return {name: register.rows(sql) for name, sql in ordered.items()} | {
        "conflicts": list_conflicts(register)
    }


def _merge(register, other, **options):
    return merge_registers(register, other, who="Mel", at=START + timedelta(days=400), **options)


@contextmanager
def _stations(folder, names="ab", prepare=lambda register: None):
    """Copies of one register, as stations that part take with them."""
    folder = Path(folder)
    with open_register(folder / "base.sqlite", create=True) as base:
        for number in (1, 2):
            add_by_hand(
                base, {"closed_kN": f"2{number}", "serial": f"S{number}"}, who="Bo", at=START
            )
        prepare(base)
    with ExitStack() as stack:
        opened = []
        for name in names:
            shutil.copy(folder / "base.sqlite", folder / f"{name}.sqlite")
            opened.append(stack.enter_context(open_register(folder / f"{name}.sqlite")))
        yield opened


@contextmanager
def _copy(register, name="copy"):
    path = register.path.with_name(f"{register.path.stem}-{name}.sqlite")
    with sqlite3.connect(path) as target:
        register.db.conn.backup(target)
    target.close()
    with open_register(path) as copy:
        yield copy


ACTIONS = st.tuples(
    st.integers(0, 2),  # which station
    st.sampled_from([*"nnc", "p", "m", "i", "f", "q", "r", "x", "l", "o", "w", "s"]),
    st.integers(0, 5),  # which connector
    st.integers(-500, 500),  # minutes by which the station's clock is off
)


def _act(register, action, choice, at):
    """Let a station do one thing; what the register refuses is not done."""
    who = f"P{at.minute}"
    if action == "n":
        add_by_hand(
            register, {"closed_kN": str(20 + choice), "serial": f"S{choice}"}, who=who, at=at
        )
        return
    connectors = list_connectors(register)
    if not connectors:
        return
    connector = connectors[choice % len(connectors)]
    if action == "c":
        fields = {"closed_kN": str(20 + at.minute % 9), "marks": [f"CE 9{choice}23"]}
        correct_entry(register, connector, fields, why="look again", who=who, at=at)
        return
    kind = {
        "p": Kind.PUT_IN_SERVICE, "m": Kind.MOVED, "i": Kind.INSPECTED, "f": Kind.INSPECTED,
        "q": Kind.QUARANTINED, "r": Kind.RELEASED, "x": Kind.RETIRED, "l": Kind.LOST,
        "o": Kind.FOUND, "w": Kind.WITHDRAWN, "s": Kind.SETTLED,
    }[action]  # fmt: skip
    body = {"reason": action, "result": "fail" if action == "f" else "pass"}
    if action == "m":
        body = {"place": f"Kit {choice}"}
    register.record(kind, connector.uid, body, who=who, at=at)


def _live(registers, actions):
    for turn, (station, action, choice, minutes) in enumerate(actions):
        register = registers[station % len(registers)]
        at = START + timedelta(days=5, hours=turn, minutes=minutes)
        try:
            _act(register, action, choice, at)
        except (RefusedStep, RegisterError):
            continue


LAWS = settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


@LAWS
@given(st.lists(ACTIONS, max_size=14))
def test_either_order_gives_the_same_register(actions):
    """a takes over b, and b takes over a: same events, states, evidence and conflicts."""
    with tempfile.TemporaryDirectory() as folder, _stations(folder) as (a, b):
        _live([a, b], actions)
        with _copy(a) as a_before:
            _merge(a, b)
            _merge(b, a_before)
        assert _content(a) == _content(b)
        assert [] == [fault for fault in check_register(a) if "were entered from" not in fault]
        assert [] == [fault for fault in check_register(b) if "were entered from" not in fault]


@LAWS
@given(st.lists(ACTIONS, max_size=14))
def test_the_same_merger_twice_changes_nothing(actions):
    """The second time there is nothing new, and nothing differs."""
    with tempfile.TemporaryDirectory() as folder, _stations(folder) as (a, b):
        _live([a, b], actions)
        _merge(a, b)
        once = _content(a)
        again = _merge(a, b)
        assert (0, (), (), (), 0, 0, ()) == (
            again.events, again.stations, again.entered, again.changed, again.pictures,
            again.arrivals, again.fresh,
        )  # fmt: skip
        assert once == _content(a)


@LAWS
@given(st.lists(ACTIONS, max_size=18))
def test_three_stations_meet_in_any_way(actions):
    """(a with b) with c, and a with (b with c): the same register."""
    with tempfile.TemporaryDirectory() as folder, _stations(folder, "abc") as (a, b, c):
        _live([a, b, c], actions)
        with _copy(a) as other_a, _copy(b) as other_b:
            _merge(a, b)
            _merge(a, c)
            _merge(other_b, c)
            _merge(other_a, other_b)
            assert _content(a) == _content(other_a)


@LAWS
@given(st.lists(ACTIONS, max_size=10), st.lists(ACTIONS, max_size=10))
def test_stations_may_meet_and_part_again(first, second):
    """After a merger both go on, and meet again: nothing is lost, both hold the same."""
    with tempfile.TemporaryDirectory() as folder, _stations(folder) as (a, b):
        _live([a, b], first)
        _merge(a, b)
        _live([a, b], second)
        ids = {row["hash"] for r in (a, b) for row in r.rows("SELECT hash FROM events")}
        with _copy(a) as a_before:
            _merge(a, b)
            _merge(b, a_before)
        assert _content(a) == _content(b)
        assert ids == {row["hash"] for row in a.rows("SELECT hash FROM events")}


@LAWS
@given(st.lists(ACTIONS, max_size=12))
def test_a_rehearsal_tells_the_same_and_stores_nothing(actions):
    """What a rehearsal says would happen is what then happens."""
    with tempfile.TemporaryDirectory() as folder, _stations(folder) as (a, b):
        _live([a, b], actions)
        before = _content(a)
        told = _merge(a, b, rehearse=True)
        assert before == _content(a)
        assert told == _merge(a, b)


@pytest.fixture
def apart(tmp_path):
    """Two stations with two connectors in common."""
    with _stations(tmp_path) as opened:
        yield opened


def _record(register, id, kind, who, hours=1, **body):
    uid = find_connector(register, id).uid
    return register.record(kind, uid, body, who=who, at=START + timedelta(days=5, hours=hours))


def test_retired_here_and_inspected_there_is_listed(apart):
    """The issue's own example: it stays retired, and a person is told."""
    a, b = apart
    _record(a, "C-0001", Kind.RETIRED, "Ada", reason="worn")
    _record(b, "C-0001", Kind.INSPECTED, "Ben", hours=2, result="pass")
    merged = _merge(a, b)
    (conflict,) = merged.fresh
    assert ("C-0001",) == conflict.ids
    assert "retired by Ada" in conflict.text
    assert "inspected by Ben" in conflict.text
    assert "retired" == find_connector(a, "C-0001").life


def test_different_figures_are_listed_with_both_values(apart):
    """Each station corrected the closed figure: both values are named, none is settled."""
    a, b = apart
    for hours, (register, value, who) in enumerate(((a, "24", "Ada"), (b, "25", "Ben"))):
        connector, at = find_connector(register, "C-0002"), START + timedelta(hours=hours)
        correct_entry(register, connector, {"closed_kN": value}, why="x", who=who, at=at)
    (conflict,) = _merge(a, b).fresh
    assert "closed_kN corrected to 24 by Ada and to 25 by Ben" == conflict.text


def test_a_conflict_can_be_settled_and_stays_settled(apart):
    """After a person has settled it, it is gone here, and at the other station after merging."""
    a, b = apart
    _record(a, "C-0001", Kind.RETIRED, "Ada")
    _record(b, "C-0001", Kind.INSPECTED, "Ben", hours=2, result="pass")
    _merge(a, b)
    _record(a, "C-0001", Kind.SETTLED, "Mel", hours=3, reason="worn indeed")
    assert () == list_conflicts(a)
    assert () == _merge(b, a).conflicts


def test_the_same_is_no_conflict(apart):
    """Both corrected the figure to the same value, both moved it: nothing to settle."""
    a, b = apart
    for register, who in ((a, "Ada"), (b, "Ben")):
        connector = find_connector(register, "C-0002")
        correct_entry(register, connector, {"closed_kN": "24"}, why="x", who=who, at=START)
        _record(register, "C-0002", Kind.MOVED, who, place="Kit 2")
    assert () == _merge(a, b).conflicts
    assert Decimal(24) == find_connector(a, "C-0002").closed_kN


def test_an_id_given_at_both_stations_is_listed(apart):
    """Both stations named their new connector C-0003: both are kept under their keys."""
    a, b = apart
    for register, closed in ((a, "30"), (b, "40")):
        add_by_hand(register, {"closed_kN": closed}, who="X", at=START)
    (conflict,) = _merge(a, b).fresh
    assert ("C-0003", "C-0003") == conflict.ids
    assert "2 connectors carry the id C-0003" in conflict.text
    with pytest.raises(RegisterError, match="2 connectors carry"):
        find_connector(a, "C-0003")
    strengths = {find_connector(a, uid).closed_kN for uid in conflict.uids}
    assert {Decimal(30), Decimal(40)} == strengths
    other = find_connector(a, conflict.uids[1])
    correct_entry(a, other, {"id": "C-0099"}, why="two labels", who="Mel", at=START)
    assert () == list_conflicts(a)


def test_one_connector_entered_at_both_is_listed(apart):
    """Same maker, model and serial at both stations: probably one connector, said so."""
    a, b = apart
    for register, id in ((a, "N-1"), (b, "M-1")):
        fields = {"id": id, "maker": "Felsnase", "model": "Oval", "serial": "77"}
        add_by_hand(register, fields, who="X", at=START)
    (conflict,) = _merge(a, b).fresh
    assert {"N-1", "M-1"} == set(conflict.ids)
    assert "maker, model and serial" in conflict.text
    _record(a, "M-1", Kind.RETIRED, "Mel", hours=9, reason="entered twice, see N-1")
    assert () == list_conflicts(a)


def test_arrival_registered_by_the_other_station_waits_no_more(tmp_path, arrive):
    """One station confirms a photo that still waits at the other: after merging it does not."""

    def prepare(register):
        arrive(register, count=2)

    with _stations(tmp_path, prepare=prepare) as (a, b):
        first = waiting(b)[0]
        (event,) = confirm_arrivals(b, [(first, {"closed_kN": "27"})], who="Ben", at=START)
        merged = _merge(a, b)
        assert 1 == merged.arrivals
        assert [2] == [arrival.key for arrival in waiting(a)]
        assert () == merged.conflicts
        assert [] == list(check_register(a))
        assert "C-0003" == find_connector(a, event.connector).id


def test_one_photo_confirmed_at_both_is_listed_as_entered_twice(tmp_path, arrive):
    """Both stations confirmed the same stamp: two entries, listed as one connector."""
    with _stations(tmp_path, prepare=lambda register: arrive(register)) as (a, b):
        for register, id in ((a, "N-1"), (b, "M-1")):
            confirm_arrivals(register, [(waiting(register)[0], {"id": id})], who="X", at=START)
        (conflict,) = _merge(a, b).fresh
        assert "the same stamp on the same photo" in conflict.text
        assert {"N-1", "M-1"} == set(conflict.ids)


def test_evidence_comes_along(tmp_path, arrive):
    """Pictures and readings taken at one station are in the other's file after merging."""
    with _stations(tmp_path) as (a, b):
        (arrival,) = arrive(b)
        confirm_arrivals(b, [(arrival, {"closed_kN": "27"})], who="Ben", at=START)
        assert 1 == _merge(a, b).pictures
        connector = find_connector(a, "C-0003")
        assert b"picture 0" == read_crop(a, connector.photos[0][2]).picture
        assert [] == list(check_register(a))


def test_settings_stay_each_stations_own(tmp_path):
    """A setting changed elsewhere is not taken over, and the register is still found whole."""
    with _stations(
        tmp_path, prepare=lambda r: change_setting(r, "ratio", "12", who="Bo", at=START)
    ) as (a, b):
        with open_register(tmp_path / "base.sqlite") as base:
            change_setting(base, "ratio", "15", who="Bo", at=START + timedelta(days=9))
            change_setting(b, "ratio", "20", who="Ben", at=START + timedelta(days=9))
            _merge(a, base)
            _merge(a, b)
            _merge(b, base)
        assert Decimal(12) == read_settings(a).ratio
        assert Decimal(20) == read_settings(b).ratio
        assert [] == list(check_register(a))
        assert [] == list(check_register(b))


def test_new_events_come_after_those_taken_over(apart):
    """After taking over a station whose clock runs a year ahead, one's own next event is last."""
    a, b = apart
    uid = find_connector(b, "C-0001").uid
    ahead = START + timedelta(days=365)
    b.record(Kind.MOVED, uid, {"place": "Kit 9"}, who="Ben", at=ahead, happened_on="2026-01-05")
    _merge(a, b)
    _record(a, "C-0001", Kind.MOVED, "Ada", place="Kit 1")
    assert "Kit 1" == find_connector(a, "C-0001").place
    _merge(b, a)
    assert "Kit 1" == find_connector(b, "C-0001").place


def test_a_file_that_went_back_in_time_is_refused(apart):
    """Two files went on under one station's name: refused whole, with what to do."""
    a, _ = apart
    _record(a, "C-0001", Kind.MOVED, "Ada", place="Kit 1")
    with _copy(a, "old") as old:
        bound = a.rows("SELECT * FROM stations")
        old.db.conn.executemany(
            "INSERT INTO stations VALUES (?, ?, ?) ON CONFLICT DO NOTHING",
            [tuple(row.values()) for row in bound],
        )
        forged = event_of(old.rows("SELECT * FROM events ORDER BY turn DESC LIMIT 1")[0])
    _record(a, "C-0001", Kind.MOVED, "Ada", hours=2, place="Kit 2")
    other = sealed(
        replace(
            forged, number=forged.number + 1, previous=forged.hash, after=(forged.id,),
            turn=stamp_time(START + timedelta(days=6)), body={"place": "Kit 3"},
        )
    )  # fmt: skip
    before = _content(a)
    with pytest.raises(ImportRefused, match="different events under the same numbers") as caught:
        unite(a, [forged, other], [], source="old", who="Mel", at=START)
    assert "Keep both files" in caught.value.remedy
    assert before == _content(a)


def _event(register):
    """The last event of a register, to be tampered with."""
    return event_of(register.rows("SELECT * FROM events ORDER BY turn DESC LIMIT 1")[0])


TAMPERED = {
    "altered": (lambda e: replace(e, body={"place": "Kit 66"}), "altered"),
    "not sealed": (lambda e: replace(e, who="Eve"), "altered"),
    "number left out": (lambda e: sealed(replace(e, number=e.number + 1)), "missing"),
    "wrong chain": (lambda e: sealed(replace(e, previous="0" * 64)), "missing"),
    "earlier turn": (lambda e: sealed(replace(e, turn="2001-01-01T00:00:00.000000Z")), "order"),
    "unknown parent": (lambda e: sealed(replace(e, after=("zz-9",))), "missing"),
    "no parent": (lambda e: sealed(replace(e, after=())), "follows no event"),
    "own parent": (lambda e: sealed(replace(e, after=(e.id,))), "cannot follow"),
    "other connector": (lambda e: sealed(replace(e, connector="zz-1")), "cannot follow"),
    "no person": (lambda e: sealed(replace(e, who=" ")), "names no person"),
    "no day": (lambda e: sealed(replace(e, happened_on="2026-02-30")), "is not a day"),
    "year 9999": (lambda e: sealed(replace(e, turn="9999-12-31T23:59:59.999999Z")), "time"),
    "station": (lambda e: sealed(replace(e, station="A B")), "station or number"),
    "true as number": (lambda e: replace(e, number=True), "station or number"),
    "fraction": (lambda e: replace(e, body={"place": "x", "depth": 0.5}), "body"),
    "field": (lambda e: sealed(replace(e, body={"fields": {"colour": "red"}})), "no field"),
    "figure": (lambda e: sealed(replace(e, body={"fields": {"closed_kN": "many"}})), "strength"),
    "place": (lambda e: sealed(replace(e, body={"place": 7})), "place"),
    "huge": (lambda e: sealed(replace(e, body={"place": "x" * 5000})), "body"),
}


@pytest.mark.parametrize(("tamper", "said"), TAMPERED.values(), ids=TAMPERED)
def test_an_unsound_history_is_refused_whole(apart, tamper, said):
    """Any event no station can have written: nothing is taken over, and it is named."""
    a, b = apart
    _record(b, "C-0001", Kind.MOVED, "Ben", place="Kit 1")
    _record(b, "C-0002", Kind.MOVED, "Ben", hours=2, place="Kit 1")
    station = _event(b).station
    own = [event_of(r) for r in b.rows("SELECT * FROM events WHERE station = ?", [station])]
    before = _content(a)
    with pytest.raises(ImportRefused, match=said):
        unite(a, [own[0], tamper(own[1])], [], source="x", who="Mel", at=START)
    assert before == _content(a)
    assert [] == list(check_register(a))


def test_an_altered_picture_is_refused(apart, tmp_path, arrive):
    """An evidence picture whose content is not its name is refused, and nothing is taken over."""
    a, b = apart
    arrive(b)
    rows = [("crops", ("0" * 64, "0" * 64, 0, "image/jpeg", b"other"))]
    with pytest.raises(ImportRefused, match="was altered"):
        unite(a, [], rows, source="x", who="Mel", at=START)
    loose = [("crops", (
        "2d711642b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881", "0" * 64, 0,
        "image/jpeg", b"x"))]  # fmt: skip
    with pytest.raises(ImportRefused, match="missing photo"):
        unite(a, [], loose, source="x", who="Mel", at=START)


def test_merging_into_a_register_that_is_being_written_says_so(apart):
    """Another process holds the file: a clear line, nothing taken over; later it works."""
    a, b = apart
    _record(b, "C-0001", Kind.MOVED, "Ben", place="Kit 1")
    with open_register(a.path, wait_s=0.1) as impatient:
        a.db.conn.execute("BEGIN IMMEDIATE")
        with pytest.raises(RegisterError, match="being written by another process"):
            _merge(impatient, b)
        a.db.conn.execute("ROLLBACK")
        assert 1 == _merge(impatient, b).events


def test_a_register_with_itself_is_nothing_new(apart):
    """Merging a file with itself, opened for reading, changes nothing."""
    a, _ = apart
    with open_register(a.path, read_only=True) as same:
        assert 0 == _merge(a, same).events

"""Recording: one transaction an event, chained, never changed; legal steps only."""

import sqlite3
import subprocess
import sys
from datetime import UTC, datetime, timedelta

import pytest

from stampreader.errors import RefusedStep, RegisterError
from stampreader.register import (
    Kind,
    Life,
    Register,
    RegisterBusy,
    check_register,
    find_connector,
    list_connectors,
    open_register,
)

NOON = datetime(2025, 3, 1, 12, tzinfo=UTC)


def test_an_event_is_stored_with_its_chain(register, enter, record):
    """Events of a station are numbered without gaps and each carries the hash of the one before."""
    uid = enter(register)
    record(register, Kind.PUT_IN_SERVICE, uid, place="Kit 1")
    first, second = register.history(uid)
    assert ("", first.hash) == (first.previous, second.previous)
    assert (1, 2) == (first.number, second.number)
    assert (first.id,) == second.after
    assert uid == first.id


def test_the_present_state_is_kept_up_to_date(register, enter, record):
    """After each event the connector's row shows its new state."""
    uid = enter(register)
    record(register, Kind.PUT_IN_SERVICE, uid, place="Kit 1")
    connector = find_connector(register, "c-0001")
    assert (Life.IN_SERVICE, "Kit 1") == (connector.life, connector.place)


@pytest.mark.parametrize("statement", [
    "UPDATE events SET who = 'Eve'",
    "DELETE FROM events",
    "INSERT OR REPLACE INTO events SELECT * FROM events",
    "UPDATE events SET body = '{}' WHERE number = 1",
    "INSERT INTO events SELECT station, 7, kind, connector, after, happened_on, at, turn, who,"
    " body, previous, hash FROM events",
    "INSERT INTO events SELECT station, 2, kind, connector, after, happened_on, at, turn, who,"
    " body, 'forged', hash FROM events",
], ids=["change", "remove", "replace", "body", "gap", "wrong link"])  # fmt: skip
def test_the_history_cannot_be_changed(register, enter, statement):
    """Triggers in the file itself refuse it, for any program that opens the file."""
    enter(register)
    path = register.path
    register.close()
    with sqlite3.connect(path) as other, pytest.raises(sqlite3.IntegrityError):
        other.execute(statement)


@pytest.mark.parametrize("table", ["photos", "readings", "crops"])
@pytest.mark.parametrize("statement", ["DELETE FROM {}", "UPDATE {} SET photo = 'x'"])
def test_evidence_cannot_be_changed(register, arrive, table, statement):
    """Photos, readings and evidence pictures are kept as they were taken."""
    arrive(register)
    sql = statement.format(table).replace("photo =", "sha256 =" if table == "photos" else "photo =")
    with pytest.raises(sqlite3.IntegrityError):
        register.db.conn.execute(sql)


def test_an_illegal_step_is_refused(register, enter, record):
    """A retired connector is not inspected back to life, and nothing is stored."""
    uid = enter(register)
    record(register, Kind.RETIRED, uid, reason="crack")
    with pytest.raises(RefusedStep, match="C-0001: it is retired for good and cannot be inspected"):
        record(register, Kind.INSPECTED, uid, result="pass")
    assert 2 == len(register.history(uid))


def test_a_day_in_the_future_is_refused(register, enter, record):
    """Dates may lie in the past, not in the future."""
    uid = enter(register)
    record(register, Kind.INSPECTED, uid, happened_on="2024-12-31", result="pass")
    with pytest.raises(RefusedStep, match="lies in the future"):
        record(register, Kind.INSPECTED, uid, happened_on="2031-01-01", result="pass")


def test_a_clock_set_back_keeps_the_order(register, enter):
    """An event recorded with an earlier clock still comes after the one before."""
    uid = enter(register)
    register.record(Kind.MOVED, uid, {"place": "A"}, who="Ada", at=NOON - timedelta(days=900))
    register.record(Kind.MOVED, uid, {"place": "B"}, who="Ada", at=NOON - timedelta(days=950))
    assert "B" == find_connector(register, "C-0001").place


def test_a_transaction_is_all_or_nothing(register, enter):
    """If anything inside fails, nothing of it is stored."""
    with pytest.raises(RuntimeError), register.writing():
        enter(register, "C-0001")
        enter(register, "C-0002")
        raise RuntimeError
    assert [] == list_connectors(register)
    assert [] == list(check_register(register))


def test_writes_are_flushed(register):
    """Decisions survive a power cut: write-ahead log, every commit flushed to the disk."""
    pragmas = {
        name: register.rows(f"PRAGMA {name}")[0][name]
        for name in ("journal_mode", "synchronous", "foreign_keys")
    }
    full = 2  # https://sqlite.org/pragma.html#pragma_synchronous
    assert {"journal_mode": "wal", "synchronous": full, "foreign_keys": 1} == pragmas


def test_a_second_writer_waits_and_then_gives_up(register, enter):
    """While another process writes, a writer waits a bounded time and says so."""
    with open_register(register.path, wait_s=0.1) as other, register.writing():
        enter(register)
        with pytest.raises(RegisterBusy, match="is being written by another process"):
            enter(other, "C-0002")


def test_two_writers_in_turn_lose_nothing(register, enter):
    """Two open registers that write in turn continue one chain."""
    with open_register(register.path) as other:
        for number in range(6):
            enter(register if number % 2 else other, f"C-{number:04d}")
    assert 6 == len(list_connectors(register))
    assert [] == list(check_register(register))


def test_four_processes_at_once(tmp_path):
    """Processes writing at the same time lose no event and keep one unbroken chain."""
    path = tmp_path / "register.sqlite"
    code = (
        "import sys; from pathlib import Path; from datetime import datetime, UTC\n"
        "from stampreader.register import Kind, open_register\n"
        "with open_register(Path(sys.argv[1]), create=True, wait_s=60) as r:\n"
        "    for n in range(25):\n"
        "        r.record(Kind.REGISTERED, None, {'fields': {'id': f'{sys.argv[2]}-{n}'}},"
        " who='Ada', at=datetime.now(UTC))\n"
    )
    running = [subprocess.Popen([sys.executable, "-c", code, str(path), name]) for name in "ABCD"]
    assert [0, 0, 0, 0] == [process.wait(120) for process in running]
    with open_register(path) as register:
        assert 100 == len(list_connectors(register))
        assert [] == list(check_register(register))


def test_a_full_disk_says_so(register, enter):
    """When the disk is full: one clear line, and what was stored before is safe."""
    enter(register)
    pages = register.rows("PRAGMA page_count")[0]["page_count"]
    register.db.conn.execute(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(RegisterError, match="is full; what was stored before is safe"):
        for number in range(500):
            enter(register, f"D-{number}", note="x" * 150)
    assert "C-0001" == find_connector(register, "C-0001").id
    assert [] == list(check_register(register))


def test_a_register_for_reading_is_not_written(register, enter):
    """Opened for reading only, it refuses to record and says what to do."""
    enter(register)
    with open_register(register.path, read_only=True) as book:
        assert "C-0001" == find_connector(book, "C-0001").id
        with pytest.raises(RegisterError, match="reading only"):
            enter(book, "C-0002")


def test_rows_speak_plainly_of_sqlite_errors(register):
    """Whatever SQLite complains of comes as one of our errors."""
    with pytest.raises(RegisterError):
        Register.rows(register, "SELECT * FROM no_such_table")

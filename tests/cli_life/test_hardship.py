"""Several at once, a full disk, a disk that cannot be written, a kill in the middle."""

import os
import resource
import shutil
import signal
import sqlite3
import sys
import tempfile
import time
from datetime import datetime

import pytest

from stampreader.cli import run
from stampreader.register import check_register


def whole(desk):
    """The register's faults: none."""
    with desk.open() as book:
        return list(check_register(book))


def test_four_at_once_lose_nothing(kit):
    """Four processes move, inspect, quarantine and list at the same time: all is recorded."""
    running = [
        kit.process(*words)
        for n in range(3)
        for words in (
            ["move", "C-1", "--to", f"Van {n}", "--who", "Ada"],
            ["inspect", "C-1", "--rest-passes", "--who", "Bea"],
            ["quarantine", "C-3", "--why", f"round {n}", "--who", "Cleo"],
            ["list"],
        )
    ]
    ended = [(p.communicate(timeout=120), p.returncode) for p in running]
    assert [0] * 12 == [status for _, status in ended], ended
    kinds = [e["kind"] for e in kit.json("show", "C-1")[0]["history"]]
    assert (3, 3) == (kinds.count("moved"), kinds.count("inspected"))
    reasons = [e["body"].get("reason") for e in kit.json("show", "C-3")[0]["history"]]
    assert {"round 0", "round 1", "round 2"} <= set(reasons)
    assert [] == whole(kit)


def test_two_notices_at_once(kit):
    """Two persons act on the same notice: each connector is set apart once."""
    words = ["trace", "--batch", "24*", "--quarantine", "--reference", "N-17", "--doubtful-too"]
    running = [kit.process(*words, "--who", who) for who in ("Ada", "Bea")]
    assert [0, 0] == [p.wait(60) for p in running]
    for id in ("C-1", "C-2", "C-3", "C-4", "C-5"):
        kinds = [e["kind"] for e in kit.json("show", id)[0]["history"]]
        assert 1 == kinds.count("quarantined"), id
    assert [] == whole(kit)


def test_a_register_that_is_being_written(kit):
    """While another holds the register for long, a writer waits, then says so; readers go on."""
    holder = sqlite3.connect(kit.register, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    start = time.monotonic()
    line = kit.refused("move", "C-1", "--to", "Van")
    assert "is being written by another process" in line and "run the command again" in line
    assert 3 < time.monotonic() - start < 30
    assert "Kit 1" == kit.states()["C-1"][1]
    holder.execute("ROLLBACK")
    holder.close()
    kit.run("move", "C-1", "--to", "Van")


def test_a_writer_that_waits_gets_its_turn(kit):
    """A short wait is no failure."""
    holder = sqlite3.connect(kit.register, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    waiting = kit.process("move", "C-1", "--to", "Van", "--who", "Ada")
    time.sleep(1.5)
    assert waiting.poll() is None
    holder.execute("ROLLBACK")
    holder.close()
    assert 0 == waiting.wait(60)
    assert "Van" == kit.states()["C-1"][1]


def in_a_child(action, prepare):
    """Run a command in a child process after preparing it; gives exit status and what it said."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        status = 99
        try:
            with (
                open(os.devnull, "w", encoding="utf-8") as sys.stdout,
                open(writer, "w", encoding="utf-8") as sys.stderr,
            ):
                prepare()
                status = action()
        finally:
            os._exit(status)
    os.close(writer)
    with os.fdopen(reader, encoding="utf-8") as pipe:
        said = pipe.read()
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), said


def full_disk(size):
    """No file may grow beyond a size, as on a full disk."""
    return lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))


@pytest.mark.parametrize("room", [0, 1000, 9000, 40_000])
def test_a_full_disk(kit, room):
    """At whatever byte the disk is full: one line, the register whole, nothing half recorded."""
    with kit.open() as book:
        book.rows("PRAGMA wal_checkpoint(TRUNCATE)")
    before = kit.states()
    words = ["trace", "--batch", "24*", "--quarantine", "--reference", "N" * 60, "--doubtful-too"]
    status, said = in_a_child(
        lambda: run([*words, "--who", "Ada", "--register", str(kit.register)]), full_disk(room)
    )
    states = kit.states()
    if status == 0:
        assert {"quarantined"} == {state for state, _ in states.values()}
    else:
        assert 1 == status and 1 == said.count("\n") and "disk" in said, said
        assert before == states
    assert [] == whole(kit)
    kit.run("move", "C-1", "--to", "Van")


def test_a_full_disk_within_sqlite(kit):
    """SQLite's own word for a full disk, met with the largest number of pages a file may have."""
    from stampreader.errors import RegisterError
    from stampreader.register import Kind, find_connector

    with kit.open() as book:
        pages = book.rows("PRAGMA page_count")[0]["page_count"]
        book.rows(f"PRAGMA max_page_count = {pages}")
        connector = find_connector(book, "C-1")
        with pytest.raises(RegisterError, match="is full; what was stored before is safe"):
            for n in range(200):
                body = {"place": f"Van {n} " + "x" * 70}
                book.record(Kind.MOVED, connector.uid, body, who="Ada",
                            at=datetime.now().astimezone())  # fmt: skip
    assert [] == whole(kit)


def test_a_disk_that_cannot_be_written(kit):
    """A person without write permission: lists go on, steps say so in a line."""
    folder = tempfile.mkdtemp()
    try:
        copy = os.path.join(folder, "register.sqlite")
        kit.run("backup", copy)
        os.chmod(copy, 0o444)
        os.chmod(folder, 0o555)

        def ordinary():
            if os.geteuid() == 0:
                os.setgid(65534)
                os.setuid(65534)

        status, said = in_a_child(
            lambda: run(["move", "C-1", "--to", "X", "--who", "A", "--register", copy]), ordinary
        )
        assert 1 == status and "opened for reading only" in said and 1 == said.count("\n")
        status, said = in_a_child(
            lambda: run(["due", "--days", "400", "--register", copy]), ordinary
        )
        assert (0, "") == (status, said)
    finally:
        os.chmod(folder, 0o755)
        shutil.rmtree(folder)


@pytest.mark.parametrize("delay_ms", [300, 340, 380, 420, 460, 500, 560, 640])
def test_a_kill_in_the_middle_of_a_notice(desk, delay_ms):
    """Killed at any moment, either all are set apart or none; running it again completes it."""
    for n in range(12):
        desk.add(f"C-{n}", batch="24A")
    words = ["trace", "--batch", "24A", "--quarantine", "--reference", "N-17", "--who", "Ada"]
    victim = desk.process(*words)
    time.sleep(delay_ms / 1000)
    victim.send_signal(signal.SIGKILL)
    victim.communicate()
    assert {state for state, _ in desk.states().values()} in ({"registered"}, {"quarantined"})
    desk.run(*words)
    assert {"quarantined"} == {state for state, _ in desk.states().values()}
    assert [] == whole(desk)

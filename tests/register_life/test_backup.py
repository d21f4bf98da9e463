"""Backups: whole, read back, never in the place of a good one unless they are good themselves."""

import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import threading
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from stampreader.errors import RegisterError, UsageError
from stampreader.register import (
    Crop,
    back_up,
    backup,
    check_register,
    find_connector,
    keep_reading,
    list_connectors,
    open_register,
)
from stampreader.words import Reading

GOLDEN = Path(__file__).resolve().parents[1] / "golden" / "register-after-step-1.sqlite"


@pytest.fixture
def filled(shelf):
    """Two connectors and an evidence picture."""
    shelf.enter("C-1", in_service="2025-01-01")
    shelf.enter("C-2")
    reading = Reading("a.jpg", "ab" * 32, (10, 10), readers=("tests 1",))
    keep_reading(shelf.book, reading, [Crop("ab" * 32, 0, "image/jpeg", b"x")], at=shelf.now())
    return shelf


def test_a_backup_holds_everything(filled, tmp_path):
    """The copy opens, is whole, and holds the same connectors, events and pictures."""
    made = back_up(filled.book, tmp_path / "copy.sqlite")
    assert (2, 3, 1) == (made.connectors, made.events, made.pictures)
    assert made.size_bytes == made.path.stat().st_size
    with open_register(made.path, read_only=True) as copy:
        assert list_connectors(filled.book) == list_connectors(copy)
        assert filled.book.rows("SELECT * FROM events") == copy.rows("SELECT * FROM events")
        assert [] == list(check_register(copy))


def test_a_backup_is_one_plain_file(filled, tmp_path):
    """No side files; SQLite's own command of another process reads it from a folder of its own."""
    folder = tmp_path / "usb"
    folder.mkdir()
    made = back_up(filled.book, folder / "copy.sqlite")
    assert ["copy.sqlite"] == [p.name for p in folder.iterdir()]
    with closing(sqlite3.connect(f"file:{made.path}?immutable=1", uri=True)) as conn:
        assert [("ok",)] == conn.execute("PRAGMA integrity_check").fetchall()
        assert [("delete",)] == conn.execute("PRAGMA journal_mode").fetchall()


def test_a_backup_names_the_last_entry(filled, tmp_path):
    """The hash of the last event of each station stands beside it, to be written on paper."""
    made = back_up(filled.book, tmp_path / "copy.sqlite")
    last = filled.book.rows("SELECT hash FROM events ORDER BY number DESC LIMIT 1")[0]["hash"]
    ((event, digest),) = made.last
    assert last == digest and event.endswith("-3")


def test_a_backup_never_overwrites_by_chance(filled, tmp_path):
    """An existing file, a folder, a missing folder and the register itself are refused."""
    taken = tmp_path / "taken.sqlite"
    taken.write_bytes(b"something else")
    for place, why in (
        (taken, "exists already"),
        (tmp_path, "is a folder"),
        (tmp_path / "no" / "copy.sqlite", "no folder"),
        (filled.book.path, "is the register itself"),
    ):
        with pytest.raises(UsageError, match=why):
            back_up(filled.book, place, overwrite=place == filled.book.path)
    assert b"something else" == taken.read_bytes()


def test_an_older_backup_is_replaced_when_asked(filled, tmp_path):
    """With overwrite the new one takes the place of the old."""
    place = tmp_path / "copy.sqlite"
    back_up(filled.book, place)
    filled.enter("C-3")
    assert 3 == back_up(filled.book, place, overwrite=True).connectors


def test_a_bad_copy_never_replaces_a_good_one(filled, tmp_path, monkeypatch):
    """If reading back finds a fault the older backup stays, and nothing else is left behind."""
    place = tmp_path / "usb" / "copy.sqlite"
    place.parent.mkdir()
    back_up(filled.book, place)
    good = place.read_bytes()
    copy = backup._copy

    def spoiling(register, made):
        copy(register, made)
        with closing(sqlite3.connect(made)) as conn, conn:
            conn.execute("DROP TRIGGER events_are_not_changed")
            conn.execute("UPDATE events SET who = 'Eve' WHERE number = 2")

    monkeypatch.setattr(backup, "_copy", spoiling)
    with pytest.raises(RegisterError, match=r"not whole: event .*-2: it was altered"):
        back_up(filled.book, place, overwrite=True)
    assert good == place.read_bytes()
    assert [place] == list(place.parent.iterdir())


def test_a_copy_of_another_register_is_noticed(filled, tmp_path, monkeypatch):
    """A copy that is whole but not of this register does not count."""
    with open_register(tmp_path / "other.sqlite", create=True) as other:
        from stampreader.register import add_by_hand

        add_by_hand(other, {"id": "X-1"}, who="Ada", at=filled.now())
        copy = backup._copy
        monkeypatch.setattr(backup, "_copy", lambda register, made: copy(other, made))
        with pytest.raises(RegisterError, match="differs from the register at event"):
            back_up(filled.book, tmp_path / "copy.sqlite")
    assert not (tmp_path / "copy.sqlite").exists()


def test_others_go_on_writing(filled, tmp_path):
    """While copies are made another connection writes; each copy is whole, nothing is lost."""
    done = threading.Event()

    def write():
        with open_register(filled.book.path, wait_s=30) as other:
            number = 100
            while not done.is_set():
                number += 1
                from stampreader.register import add_by_hand

                add_by_hand(other, {"id": f"D-{number}"}, who="Ben", at=filled.now())

    writer = threading.Thread(target=write)
    writer.start()
    try:
        counts = [back_up(filled.book, tmp_path / f"{n}.sqlite").connectors for n in range(5)]
    finally:
        done.set()
        writer.join()
    assert sorted(counts) == counts
    assert [] == list(check_register(filled.book))


def test_a_full_disk_leaves_nothing_behind(filled, tmp_path):
    """The copy runs into the largest size a file may have: one line, register and folder intact."""
    code = (
        "import resource, sys\n"
        "from pathlib import Path\n"
        "from stampreader.errors import RegisterError\n"
        "from stampreader.register import back_up, open_register\n"
        "with open_register(Path(sys.argv[1])) as book:\n"
        "    resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))\n"
        "    try:\n"
        "        back_up(book, Path(sys.argv[2]))\n"
        "    except RegisterError as error:\n"
        "        print(error.line())\n"
    )
    place = tmp_path / "usb" / "copy.sqlite"
    place.parent.mkdir()
    done = subprocess.run(
        [sys.executable, "-c", code, str(filled.book.path), str(place)],
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert "" == done.stderr
    assert 1 == done.stdout.count("\n") and "disk" in done.stdout
    assert [] == os.listdir(place.parent)
    assert "C-1" == find_connector(filled.book, "C-1").id


# -- the copy kept before a register is brought up to date ---------------------------------------


def test_a_register_of_an_older_form_is_copied_first():
    """A register as the first step left it opens, and its copy beside it is the old file, whole."""
    with old_register() as path:
        told = []
        with open_register(path, progress=told.append) as book:
            assert [] == list(check_register(book))
        copy = path.with_name("register.before-step-2.sqlite")
        with closing(sqlite3.connect(copy)) as conn:
            assert [("ok",)] == conn.execute("PRAGMA integrity_check").fetchall()
            names = {row[0] for row in conn.execute("SELECT name FROM sqlite_schema")}
        assert "connectors_by_gate" not in names and str(copy) in told[0]


def test_without_room_for_the_copy_nothing_is_changed():
    """The disk is full while the copy is made: one line, the register as it was, no half copy."""
    with old_register() as path:
        before = path.read_bytes()
        code = (
            "import resource, sys\n"
            "from pathlib import Path\n"
            "from stampreader.errors import RegisterError\n"
            "from stampreader.register import open_register\n"
            "resource.setrlimit(resource.RLIMIT_FSIZE, (40_000, 40_000))\n"
            "try:\n"
            "    open_register(Path(sys.argv[1]))\n"
            "except RegisterError as error:\n"
            "    print(error.line())\n"
        )
        done = subprocess.run(
            [sys.executable, "-c", code, str(path)], capture_output=True, text=True, timeout=60
        )
        assert "" == done.stderr and 1 == done.stdout.count("\n") and "disk" in done.stdout
        assert [path.name] == sorted(p.name for p in path.parent.iterdir())
        with closing(sqlite3.connect(path)) as conn:
            assert "connectors_by_gate" not in {
                r[0] for r in conn.execute("SELECT name FROM sqlite_schema")
            }
        assert len(before) == path.stat().st_size


@contextmanager
def old_register():
    """A register kept from the first step, in a folder of its own."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "register.sqlite"
        shutil.copy(GOLDEN, path)
        yield path

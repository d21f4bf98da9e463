"""Opening: what is not a register is left alone; an older one is backed up and brought up to date."""

import os
import shutil
import sqlite3
import stat
import tempfile
from pathlib import Path

import pytest
from sqlite_utils import Database, Migrations

from stampreader.errors import RegisterError
from stampreader.register import (
    NewerRegister,
    NoRegister,
    NotARegister,
    check_register,
    find_connector,
    open_register,
    opening,
)
from stampreader.register.migrations import APPLICATION_ID, names


def test_a_missing_register_is_not_made_by_looking(tmp_path):
    """Looking at a register that is not there says so and makes nothing."""
    path = tmp_path / "none" / "register.sqlite"
    with pytest.raises(NoRegister, match="there is no register at"):
        open_register(path)
    assert not path.parent.exists()


def test_a_new_register_is_made_with_its_folder(tmp_path):
    """Beginning a register makes its folder too, and marks the file as ours."""
    path = tmp_path / "new" / "register.sqlite"
    with open_register(path, create=True) as register:
        assert APPLICATION_ID == register.rows("PRAGMA application_id")[0]["application_id"]


def test_a_file_of_nothing_becomes_a_register(tmp_path):
    """An empty file, left by a run cut off at the very start, is begun afresh when writing."""
    path = tmp_path / "register.sqlite"
    path.touch()
    with pytest.raises(NoRegister):
        open_register(path)
    with open_register(path, create=True) as register:
        assert [] == list(check_register(register))


FOREIGN = {
    "text": lambda path: path.write_text("maker;model\n" * 200),
    "another program's database": lambda path: _database(path, 0x1234),
    "a database without a mark": lambda path: _database(path, 0),
    "a folder": lambda path: path.mkdir(),
}


def _database(path, application):
    with sqlite3.connect(path) as conn:
        conn.execute("CREATE TABLE things (a)")
        conn.execute(f"PRAGMA application_id = {application}")
    conn.close()


@pytest.mark.parametrize("make", FOREIGN.values(), ids=FOREIGN)
def test_what_is_not_a_register_is_left_alone(tmp_path, make):
    """A foreign file is refused in one line and not changed by a byte."""
    path = tmp_path / "thing"
    make(path)
    before = path.read_bytes() if path.is_file() else None
    with pytest.raises(NotARegister):
        open_register(path, create=True)
    assert before == (path.read_bytes() if path.is_file() else None)


def test_a_damaged_register_says_so(register, enter, tmp_path):
    """A register whose pages were overwritten is called damaged, not crashed upon."""
    for number in range(50):
        enter(register, f"C-{number}")
    register.close()
    data = bytearray(register.path.read_bytes())
    data[4096:] = b"\xa5" * (len(data) - 4096)
    register.path.write_bytes(data)
    with pytest.raises(RegisterError), open_register(register.path) as broken:
        find_connector(broken, "C-1")


def test_a_newer_register_is_refused(register, enter):
    """A register that has taken steps this program does not know is left alone."""
    enter(register)
    newer = Migrations("stampreader")

    @newer(name="m999_from_the_future")
    def step(db):
        db["connectors"].add_column("colour", str)

    newer.apply(register.db)
    with pytest.raises(NewerRegister, match="m999_from_the_future"):
        open_register(register.path)


def test_an_older_register_is_backed_up_and_brought_up_to_date(register, enter, monkeypatch):
    """Before new steps are taken the register is copied beside itself; the copy opens as it was."""
    enter(register)
    register.close()
    told = []
    _with_one_more_step(monkeypatch)
    with open_register(register.path, progress=told.append) as book:
        assert {"colour"} <= {c["name"] for c in book.rows("PRAGMA table_info(photos)")}
        assert "C-0001" == find_connector(book, "C-0001").id
    step = len(names()) + 1
    copy = register.path.with_name(f"register.before-step-{step}.sqlite")
    with sqlite3.connect(copy) as old:
        assert 1 == old.execute("SELECT count(*) FROM events").fetchone()[0]
        assert "colour" not in {r[1] for r in old.execute("PRAGMA table_info(photos)")}
    assert 2 == len(told)


def test_a_step_that_fails_leaves_the_register_as_it_was(register, enter, monkeypatch):
    """A step and its record are one transaction: a failure undoes both."""
    enter(register)
    register.close()
    _with_one_more_step(monkeypatch, fails=True)
    with pytest.raises(RuntimeError):
        open_register(register.path)
    monkeypatch.undo()
    with open_register(register.path) as book:
        assert "colour" not in {c["name"] for c in book.rows("PRAGMA table_info(photos)")}
        assert [] == list(check_register(book))


def _with_one_more_step(monkeypatch, fails=False):
    """This program as it would be with one more migration."""
    more = Migrations("stampreader")
    more._migrations = list(opening.MIGRATIONS._migrations)

    @more(name="m998_colour")
    def step(db: Database):
        db.conn.execute("ALTER TABLE photos ADD COLUMN colour TEXT")
        if fails:
            raise RuntimeError("power cut")

    monkeypatch.setattr(opening, "MIGRATIONS", more)
    monkeypatch.setattr(opening, "names", lambda: [m.name for m in more._migrations])


def as_ordinary_user(action):
    """Run an action as a user without special rights, in a child process; gives what it says."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            if os.geteuid() == 0:
                os.setgid(65534)
                os.setuid(65534)
            said = action()
        except RegisterError as error:
            said = error.line()
        except BaseException as error:
            said = f"crashed: {error!r}"
        os.write(writer, said.encode())
        os._exit(0)
    os.waitpid(child, 0)
    os.close(writer)
    with os.fdopen(reader, encoding="utf-8") as pipe:
        return pipe.read()


@pytest.fixture
def open_folder():
    """A folder that every user can reach (pytest's own folders are private)."""
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o755)
    yield folder
    folder.chmod(0o755)
    shutil.rmtree(folder)


def test_a_read_only_register_can_be_looked_at(open_folder, enter):
    """On a disk that cannot be written the register is still listed, and writing says why not."""
    path = open_folder / "register.sqlite"
    with open_register(path, create=True) as register:
        enter(register)
    path.chmod(0o444)
    open_folder.chmod(0o555)

    def look():
        with open_register(path) as book:
            return find_connector(book, "C-0001").id

    def write():
        with open_register(path, create=True) as book:
            enter(book, "C-0002")
        return "written"

    assert "C-0001" == as_ordinary_user(look)
    assert "reading only" in as_ordinary_user(write)


def test_a_secret_register_says_so(open_folder, enter):
    """A file this person may not read is named, with what to do."""
    path = open_folder / "register.sqlite"
    with open_register(path, create=True) as register:
        enter(register)
    path.chmod(0)
    said = as_ordinary_user(lambda: str(open_register(path)))
    assert "may not be read. Give yourself permission" in said


def test_a_folder_that_cannot_be_made_says_so(open_folder):
    """A register in a place where no folder can be made: one line, no crash."""
    open_folder.chmod(0o555)
    said = as_ordinary_user(lambda: str(open_register(open_folder / "a" / "r.sqlite", create=True)))
    assert "cannot be made" in said


def test_a_copied_register_begins_a_new_station(register, enter, tmp_path):
    """A copy that is written to goes on as another station, so that both can be merged later."""
    enter(register)
    register.close()
    copy = tmp_path / "copy.sqlite"
    shutil.copy(register.path, copy)
    with open_register(copy) as other, open_register(register.path) as same:
        enter(other, "C-0002")
        enter(same, "C-0003")
        stations = [
            find_connector(book, id).uid.split("-")[0]
            for book, id in ((same, "C-0001"), (same, "C-0003"), (other, "C-0002"))
        ]
        assert stations[0] == stations[1] != stations[2]
        assert [] == list(check_register(other))


def test_the_file_is_not_executable_and_belongs_to_the_user(register):
    """The register is an ordinary file."""
    assert not register.path.stat().st_mode & stat.S_IXUSR

"""Backup and check on the command line."""

import shutil
import sqlite3


def test_a_backup_is_made_and_can_be_used(kit):
    """It says what is in it; as a register it lists the same."""
    copy = kit.folder / "copy.sqlite"
    out, _ = kit.run("backup", copy)
    assert "5 connectors" in out and "read back and whole" in out and "up to entry" in out
    before = kit.states()
    shutil.copy(copy, kit.register)
    kit.register.with_name("register.sqlite-wal").unlink(missing_ok=True)
    assert before == kit.states()


def test_backup_as_json(kit):
    """Counts and the hash of the last entry."""
    (row,) = kit.json("backup", kit.folder / "copy.sqlite")
    assert (5, 0) == (row["connectors"], row["pictures"])
    assert 64 == len(row["last"][0]["hash"])


def test_a_backup_is_not_written_over(kit):
    """An existing file is kept unless --overwrite."""
    copy = kit.folder / "copy.sqlite"
    copy.write_text("mine")
    assert "exists already" in kit.refused("backup", copy, expect=2)
    assert "mine" == copy.read_text()
    kit.run("backup", copy, "--overwrite")
    assert copy.read_bytes().startswith(b"SQLite format 3")


def test_a_whole_register(kit):
    """Exit status 0 and one sentence; nothing as JSON."""
    assert "The register is whole.\n" == kit.run("check")[0]
    assert [] == kit.json("check")


def test_an_edit_behind_its_back_shows(kit):
    """The first broken event is named, the exit status is 1, and so is a backup refused."""
    with sqlite3.connect(kit.register) as conn:
        conn.execute("DROP TRIGGER events_are_not_changed")
        conn.execute("UPDATE events SET who = 'Eve' WHERE number IN (3, 5)")
    out, err = kit.run("check", expect=1)
    assert 1 == out.count("was altered") and "-3: it was altered after it was recorded" in out
    assert "latest backup" in err
    assert "was altered" in kit.json("check", expect=1)[0]["fault"]
    _, err = kit.run("backup", kit.folder / "copy.sqlite", expect=1)
    assert "the copy is not whole" in err
    assert not (kit.folder / "copy.sqlite").exists()


def test_a_damaged_file_is_told(kit):
    """Bytes overwritten in the middle: a line, exit status 1, no crash."""
    kit.run("backup", kit.folder / "copy.sqlite")
    size = (kit.folder / "copy.sqlite").stat().st_size
    with (kit.folder / "copy.sqlite").open("rb+") as file:
        file.seek(size // 2)
        file.write(b"\xff" * 8192)
    shutil.copy(kit.folder / "copy.sqlite", kit.register)
    for side in ("-wal", "-shm"):
        kit.register.with_name("register.sqlite" + side).unlink(missing_ok=True)
    out, err = kit.run("check", expect=1)
    assert "damaged" in out + err or "altered" in out or "differs" in out


def test_there_is_nothing_to_check(desk):
    """Without a register both say so."""
    assert "there is no register" in desk.refused("check")
    assert "there is no register" in desk.refused("backup", desk.folder / "copy.sqlite")

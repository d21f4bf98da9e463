"""`list`, `show`, `add`, `correct`, `settings`: what they print and what they refuse."""

import csv
import io
import json
import shutil
import sqlite3

import pytest

from stampreader.cli import run
from stampreader.register import Kind, open_register


@pytest.fixture
def cli(tmp_path, capsys, monkeypatch):
    """Runs a command in this process; gives standard output, and checks the exit status."""
    monkeypatch.setenv("STAMPREADER_REGISTER", str(tmp_path / "register.sqlite"))
    monkeypatch.setenv("LOGNAME", "ada")

    def called(*words, expect=0):
        capsys.readouterr()
        status = run([str(word) for word in words])
        told = capsys.readouterr()
        called.err = told.err
        assert expect == status, told.err
        return told.out

    called.register = tmp_path / "register.sqlite"
    return called


@pytest.fixture
def shelf(cli):
    """Three connectors."""
    cli("add", "--figures", "27/8/7", "--maker", "Felsnase", "--marks", "CE9123, EN362:04 B")
    cli("add", "--figures", "22,5/8/-", "--serial", "=2+2", "--set", "shape=oval")
    cli("add", "--id", "KIT/7", "--set", "note=no figures legible")
    return cli


def rows(out):
    """Objects of JSON Lines."""
    return [json.loads(line) for line in out.splitlines()]


def test_add_marks_by_hand(shelf):
    """Entries without a photo are marked, marks are brought into normal form."""
    first = rows(shelf("list", "--json"))[0]
    assert (True, 27, ["CE 9123", "EN 362:2004/B"]) == (
        first["by_hand"],
        first["closed_kN"],
        first["marks"],
    )


def test_list_shows_a_table(shelf):
    """Unknown figures show as `?`, never as a number."""
    table = shelf("list").splitlines()
    assert table[0].split()[:3] == ["id", "state", "figures"]
    assert "22.5/8/?" in table[2]
    assert "?/?/?" in table[3]


def test_list_as_csv_runs_no_formula(shelf):
    """The CSV holds all columns, and text that looks like a formula is made text."""
    table = list(csv.DictReader(io.StringIO(shelf("list", "--csv"))))
    assert ["C-0001", "C-0002", "KIT/7"] == [row["id"] for row in table]
    assert "'=2+2" == table[1]["serial"]
    assert "22.5" == table[1]["closed_kN"]


LISTS = {
    "maker": (["--maker", "felsnase"], ["C-0001"]),
    "mark": (["--mark", "EN 362 B"], ["C-0001"]),
    "strength": (["--at-least", "25"], ["C-0001"]),
    "state": (["--state", "retired"], []),
    "sorted": (["--sort", "closed", "--backwards"], ["C-0001", "C-0002", "KIT/7"]),
    "limit": (["--limit", "2"], ["C-0001", "C-0002"]),
}


@pytest.mark.parametrize(("options", "ids"), LISTS.values(), ids=LISTS)
def test_list_filters(shelf, options, ids):
    """Filters and orders work from the command line."""
    assert ids == [row["id"] for row in rows(shelf("list", "--json", *options))]


def test_list_says_what_was_left_out(shelf):
    """A shortened list says how many there are."""
    shelf("list", "--limit", "2")
    assert "2 of 3 shown; --limit 0 shows all." in shelf.err


def test_show_tells_everything(shelf):
    """Fields, figures, unknown ones too, and the history."""
    shelf(
        "correct", "c-0001", "--figures", "26/8/7", "--why", "read the wrong way up", "--who", "Ben"
    )
    text = shelf("show", "C-0001")
    assert "26 kN" in text and "entered by hand" in text
    assert "Ben  closed_kN 27 → 26  (read the wrong way up)" in text
    assert "unknown" in shelf("show", "C-0002")
    (row,) = rows(shelf("show", "C-0001", "--json"))
    assert ["registered", "corrected"] == [event["kind"] for event in row["history"]]
    assert [row["history"][0]["event"]] == row["history"][1]["after"]


def test_a_correction_keeps_what_stood_there(shelf):
    """The old value stays in the history; nothing is overwritten."""
    shelf("correct", "C-0002", "--set", "open_kN=7", "--serial", "", "--why", "looked closer")
    (row,) = rows(shelf("show", "C-0002", "--json"))
    assert (7, None) == (row["open_kN"], row["serial"])
    assert {"open_kN": None, "serial": "=2+2"} == row["history"][1]["body"]["before"]


def test_settings(shelf):
    """Settings are listed with their meaning, changed, and used for new ids and names."""
    assert 10 == next(r["value"] for r in rows(shelf("settings", "--json")) if r["name"] == "ratio")
    shelf("settings", "id_prefix", "TM-")
    shelf("settings", "person", "Ada Quell")
    assert "TM-0001 entered by hand, in the name of Ada Quell" in shelf(
        "add", "--figures", "27/8/7"
    )
    assert "Ada Quell" in shelf("settings", "person")


def test_settings_without_a_register(cli):
    """Before there is a register the usual values are shown, and none is made."""
    assert "ratio" in cli("settings")
    assert "no register yet" in cli.err
    assert not cli.register.exists()


WRONG = {
    "unknown id": (["show", "Z-1"], 1),
    "unknown id to correct": (["correct", "Z-1", "--maker", "X", "--why", "y"], 1),
    "nothing to correct": (["correct", "C-0001", "--why", "y"], 2),
    "no reason": (["correct", "C-0001", "--maker", "X", "--why", " "], 2),
    "no reason given": (["correct", "C-0001", "--maker", "X"], 2),
    "id taken": (["add", "--id", "c-0001"], 1),
    "id taken by correction": (["correct", "C-0001", "--id", "C-0002", "--why", "y"], 1),
    "two figures": (["add", "--figures", "27/8"], 2),
    "no strength": (["add", "--figures", "27/8/open"], 2),
    "negative": (["add", "--figures", "-27/8/7"], 2),
    "no mark": (["add", "--marks", "shiny"], 2),
    "future": (["add", "--made-on", "2999"], 2),
    "no field": (["add", "--set", "colour=red"], 2),
    "no value": (["add", "--set", "shape"], 2),
    "no state": (["list", "--state", "broken"], 2),
    "no order": (["list", "--sort", "colour"], 2),
    "no strength to list": (["list", "--at-least", "much"], 2),
    "csv and json": (["list", "--csv", "--json"], 2),
    "no setting": (["settings", "colour"], 2),
    "ratio 0": (["settings", "ratio", "0"], 2),
    "name too long": (["add", "--who", "x" * 81], 2),
    "empty name": (["add", "--who", " "], 2),
}


@pytest.mark.parametrize(("words", "status"), WRONG.values(), ids=WRONG)
def test_wrong_input_is_one_clear_line(shelf, words, status):
    """One line on standard error, the right exit status, nothing stored."""
    before = shelf("list", "--json")
    assert "" == shelf(*words, expect=status)
    lines = shelf.err.strip().splitlines()
    if not lines[0].startswith("Usage"):
        assert 1 == len(lines)
        assert lines[0].startswith("stampreader: ")
    assert before == shelf("list", "--json")


def foreign(path):
    """Another program's database."""
    with sqlite3.connect(path) as conn:
        conn.execute("CREATE TABLE t (a)")
    conn.close()


def newer(path):
    """A register of a newer program."""
    with open_register(path, create=True) as register:
        register.db.conn.execute(
            "INSERT INTO _sqlite_migrations (migration_set, name, applied_at)"
            " VALUES ('stampreader', 'm999', '')"
        )


REGISTERS = {
    "foreign": (foreign, "another program"),
    "text": (lambda path: path.write_text("maker\n" * 999), "is not a register"),
    "newer": (newer, "newer stampreader"),
    "folder": (lambda path: path.mkdir(), "is a folder"),
}


@pytest.mark.parametrize(("make", "said"), REGISTERS.values(), ids=REGISTERS)
@pytest.mark.parametrize(
    "words", [["list"], ["add", "--figures", "27/8/7"], ["show", "C-0001"]], ids=lambda w: w[0]
)
def test_registers_that_cannot_be_used(cli, make, said, words):
    """Every command says in one line what is wrong, and leaves the file alone."""
    make(cli.register)
    before = cli.register.read_bytes() if cli.register.is_file() else None
    cli(*words, expect=1)
    assert said in cli.err
    assert 1 == len(cli.err.strip().splitlines())
    assert before == (cli.register.read_bytes() if cli.register.is_file() else None)


def test_no_register_yet(cli):
    """Listing without a register says how to begin one."""
    cli("list", expect=1)
    assert "there is no register at" in cli.err
    assert not cli.register.exists()


def test_a_locked_register(shelf, monkeypatch):
    """While another process writes: a clear line after a bounded wait, nothing lost."""
    import stampreader.register.opening as opening

    plain = opening._plain_connection
    monkeypatch.setattr(opening, "_plain_connection", lambda uri, wait_s: plain(uri, 0.05))
    with sqlite3.connect(shelf.register) as other:
        other.execute("BEGIN IMMEDIATE")
        shelf("add", "--figures", "27/8/7", expect=1)
        assert "is being written by another process. Wait" in shelf.err
        assert 3 == len(rows(shelf("list", "--json")))
    other.close()


def test_a_full_disk(shelf, monkeypatch):
    """A disk with no room left: a clear line, and the register is as before."""
    import stampreader.register.opening as opening

    plain = opening._plain_connection

    def full(uri, wait_s):
        conn = plain(uri, wait_s)
        conn.execute(f"PRAGMA max_page_count = {conn.execute('PRAGMA page_count').fetchone()[0]}")
        return conn

    monkeypatch.setattr(opening, "_plain_connection", full)
    status, count = 0, 0
    while status == 0 and count < 60:
        status = run(["add", "--set", "note=" + "x" * 190])
        count += 1
    assert 1 == status
    monkeypatch.undo()
    with open_register(shelf.register) as register:
        events = register.rows("SELECT count(*) AS n FROM events WHERE kind = ?", [Kind.REGISTERED])
    assert 3 + count - 1 == events[0]["n"]


def test_the_register_is_one_file(shelf, tmp_path):
    """Copying the file copies the register."""
    copy = tmp_path / "elsewhere" / "copy.sqlite"
    copy.parent.mkdir()
    shutil.copy(shelf.register, copy)
    assert shelf("list", "--json") == shelf("list", "--json", "--register", copy)

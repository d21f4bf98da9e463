"""`export`, `import`, `merge`, `conflicts` and `settle`: what they print and refuse."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from datetime import UTC, datetime, timedelta

import pytest

from stampreader.cli import run
from stampreader.register import (
    Kind,
    add_by_hand,
    check_register,
    find_connector,
    list_connectors,
    open_register,
)

NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)


@pytest.fixture
def stations(tmp_path, monkeypatch):
    """Two stations with one connector in common: retired at ours, inspected at the other."""
    ours, theirs = tmp_path / "ours.sqlite", tmp_path / "theirs.sqlite"
    with open_register(ours, create=True) as register:
        uid = add_by_hand(register, {"id": "A-1", "closed_kN": "27"}, who="Bo", at=NOW).connector
    shutil.copy(ours, theirs)
    for path, kind, who in ((ours, Kind.RETIRED, "Ada"), (theirs, Kind.INSPECTED, "Ben")):
        with open_register(path) as register:
            at = NOW + timedelta(days=1)
            register.record(kind, uid, {"result": "pass", "reason": "worn"}, who=who, at=at)
            add_by_hand(register, {"id": f"{who}-1"}, who=who, at=at)
    monkeypatch.setenv("STAMPREADER_REGISTER", str(ours))
    monkeypatch.chdir(tmp_path)
    return ours, theirs


def _out(capsys):
    return capsys.readouterr().out


def _json(capsys):
    return [json.loads(line) for line in _out(capsys).splitlines()]


def test_merge_tells_what_came_and_what_is_to_be_settled(stations, capsys):
    """New connectors, those with news, and the conflict with what to do; exit 1 for the conflict."""
    assert 1 == run(["merge", "theirs.sqlite", "--who", "Mel"])
    text = _out(capsys)
    assert "2 events taken over" in text
    assert "new here: Ben-1" in text
    assert "with news: A-1" in text
    assert "1 conflict to be settled by a person:" in text
    assert "retired by Ada" in text
    with open_register(stations[0]) as register:
        assert ["A-1", "Ada-1", "Ben-1"] == [c.id for c in list_connectors(register)]


def test_merge_twice_and_the_other_way(stations, capsys):
    """Again there is nothing new; merged the other way both hold the same."""
    ours, theirs = stations
    run(["merge", "theirs.sqlite"])
    run(["merge", "theirs.sqlite", "--json"])
    again = _json_last(capsys)
    assert (0, [], []) == (again["events"], again["entered"], again["changed"])
    assert [False] == [conflict["fresh"] for conflict in again["conflicts"]]
    run(["merge", "ours.sqlite", "--register", str(theirs)])
    with open_register(ours) as one, open_register(theirs) as other:
        sql = "SELECT * FROM connectors ORDER BY uid"
        assert one.rows(sql) == other.rows(sql)


def _json_last(capsys):
    return json.loads(_out(capsys).splitlines()[-1])


def test_merge_dry_run_stores_nothing(stations, capsys):
    """A dry run tells the same in the conditional, and the file stays as it was."""
    before = stations[0].read_bytes()
    assert 1 == run(["merge", "theirs.sqlite", "--dry-run"])
    assert "2 events would be taken over" in _out(capsys)
    assert before == stations[0].read_bytes()
    assert 1 == run(["merge", "theirs.sqlite", "--dry-run", "--json"])
    assert _json(capsys)[0]["stored"] is False


def test_conflicts_are_listed_until_settled(stations, capsys):
    """`conflicts` exits 1 while there is one; `settle` takes it off; then 0."""
    assert 0 == run(["conflicts"])
    run(["merge", "theirs.sqlite"])
    capsys.readouterr()
    assert 1 == run(["conflicts", "--json"])
    (conflict,) = _json(capsys)
    assert (["A-1"], True) == (conflict["ids"], "settle A-1" in conflict["remedy"])
    assert 0 == run(["settle", "A-1", "--why", "looked at it: worn", "--who", "Mel"])
    assert "A-1 settled as it stands: retired" in _out(capsys)
    assert 0 == run(["conflicts"])
    assert 1 == run(["settle", "A-1", "--why", "again"])
    assert "nothing to settle" in capsys.readouterr().err


def test_export_import_to_an_empty_station(stations, tmp_path, capsys):
    """An exported file makes the same register elsewhere; importing it again brings nothing."""
    assert 0 == run(["export", "--to", "out.jsonl"])
    assert "out.jsonl: 2 connectors\n" == _out(capsys)
    assert 0 == run(["import", "out.jsonl", "--register", "new.sqlite", "--who", "Mel"])
    assert "3 events taken over" in _out(capsys)
    assert 0 == run(["import", "out.jsonl", "--register", "new.sqlite"])
    assert "Nothing is new" in _out(capsys)
    with open_register(tmp_path / "new.sqlite") as new, open_register(stations[0]) as ours:
        sql = "SELECT * FROM connectors ORDER BY uid"
        assert ours.rows(sql) == new.rows(sql)


def test_spreadsheet_row_by_row(stations, tmp_path, capsys):
    """Dry run, refusal with the number, skipping the refused, and the same file again."""
    (tmp_path / "gear.csv").write_text("Label,Closed,Colour\nB-1,27,red\nB-2,many,blue\n", "utf-8")
    assert 2 == run(["import", "gear.csv"])
    assert "columns not understood: Colour" in capsys.readouterr().err
    arguments = ["import", "gear.csv", "--map", "Colour=note", "--who", "Ada"]
    assert 1 == run([*arguments, "--dry-run"])
    out, err = capsys.readouterr()
    assert "row 2: B-1, closed_kN 27, note red" in out
    assert "row 3: refused: Closed: 'many' is not a strength in kN" in out
    assert "nothing was stored" in err
    assert 1 == run(arguments)
    assert "Nothing was imported: 1 of 2 rows" in capsys.readouterr().err
    assert 1 == run([*arguments, "--skip-refused", "--json"])
    rows = _json(capsys)
    assert [(2, "enter", "B-1"), (3, "refuse", "B-2")] == [
        (row["row"], row["verdict"], row["id"]) for row in rows
    ]
    assert 1 == run([*arguments, "--skip-refused"])
    assert "row 2: was imported before" in _out(capsys)


def test_dry_run_without_a_register_makes_none(tmp_path, monkeypatch, capsys):
    """Trying a spreadsheet before there is a register leaves nothing behind."""
    monkeypatch.setenv("STAMPREADER_REGISTER", str(tmp_path / "none.sqlite"))
    (tmp_path / "gear.csv").write_text("Label,Closed\nB-1,27\n", "utf-8")
    assert 0 == run(["import", str(tmp_path / "gear.csv"), "--dry-run"])
    assert "row 2: B-1" in _out(capsys)
    assert not (tmp_path / "none.sqlite").exists()


@pytest.mark.parametrize(
    ("arguments", "status", "said"),
    [
        (["merge", "none.sqlite"], 1, "there is no register at none.sqlite"),
        (["merge", "text.sqlite"], 1, "not a register"),
        (["import", "none.jsonl"], 1, "cannot open none.jsonl"),
        (["import", "cut.jsonl"], 1, "cut short"),
        (["import", "text.sqlite"], 2, "neither .csv nor .xlsx"),
        (["import", "gear.csv", "--dates", "ymd"], 2, "no order of dates"),
        (["import", "gear.csv", "--map", "Label"], 2, "not HEADING=FIELD"),
        (["export", "--to", "ours.sqlite"], 2, "exists already"),
        (["export", "--to", "none/out.jsonl"], 1, "there is no folder"),
        (["settle", "Q-9", "--why", "x"], 1, "no connector Q-9"),
        (["settle", "A-1", "--why", " "], 2, "the reason is empty"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_refusals_are_one_line(stations, tmp_path, capsys, arguments, status, said):
    """Wrong files and options: one line on standard error, nothing stored."""
    (tmp_path / "text.sqlite").write_text("this is a text, and not a database at all\n" * 9)
    (tmp_path / "gear.csv").write_text("Label\nB-1\n")
    run(["export", "--to", "whole.jsonl"])
    (tmp_path / "cut.jsonl").write_bytes((tmp_path / "whole.jsonl").read_bytes()[:-200])
    capsys.readouterr()
    assert status == run(arguments)
    out, err = capsys.readouterr()
    lines = [line for line in err.splitlines() if not line.startswith("columns of")]
    assert ("", 1) == (out, len(lines))
    assert said in lines[0]
    with open_register(stations[0]) as register:
        assert 3 == register.rows("SELECT count(*) AS n FROM events")[0]["n"]


def test_two_imports_at_once_enter_nothing_twice(stations, tmp_path):
    """Two processes import the same sheet without ids: each row is entered once."""
    rows = "".join(f"Felsnase,Oval,{number}\n" for number in range(40))
    (tmp_path / "gear.csv").write_text(f"Maker,Model,Serial\n{rows}", "utf-8")
    command = [sys.executable, "-m", "stampreader", "import", "gear.csv", "--who", "Ada"]
    children = [
        subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) for _ in range(2)
    ]
    said = [child.communicate(timeout=60)[1] for child in children]
    assert [0, 0] == [child.returncode for child in children], said
    with open_register(stations[0]) as register:
        assert 42 == len(list_connectors(register))
        assert [] == list(check_register(register))
        assert "Felsnase" == find_connector(register, "C-0001").maker

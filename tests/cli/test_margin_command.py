"""`stampreader margin`: what it prints, its JSON, its exit status, and what it refuses."""

import json
from datetime import UTC, datetime

import pytest

from stampreader.cli import run
from stampreader.register import Kind, add_by_hand, change_setting, open_register
from stampreader.words import CAUTION

NOW = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)


@pytest.fixture
def shelf(tmp_path):
    """A register with three connectors, one of them quarantined, and settings of its own."""
    path = tmp_path / "register.sqlite"
    rows = [("A-1", 40, 11, 11), ("A-2", 27, 8, 7), ("A-3", 25, 10, None)]
    with open_register(path, create=True) as register:
        for id, *figures in rows:
            fields = dict(zip(("closed_kN", "cross_kN", "open_kN"), figures, strict=True))
            kept = {name: str(kN) for name, kN in fields.items() if kN is not None}
            add_by_hand(register, {"id": id, **kept}, who="M. Grau", at=NOW)
        change_setting(register, "ratio", "15", who="M. Grau", at=NOW)
        change_setting(register, "person_kN", "1.33", who="M. Grau", at=NOW)
    return path


def margin(*arguments):
    """Run the command; its exit status."""
    return run(["margin", *arguments])


def rows(capsys):
    """The JSON objects printed."""
    return [json.loads(line) for line in capsys.readouterr().out.splitlines()]


# --- figures typed -----------------------------------------------------------------------------


def test_allowed_loads_of_common_practice(capsys):
    """27/8/7 at 10:1 allows 2.7, 0.8 and 0.7 kN (common practice, no source)."""
    margin("--figures", "27/8/7", "--load", "1 kN", "--ratio", "10", "--json")
    (row,) = rows(capsys)
    allowed = {slot: figure["allowed_kN"] for slot, figure in row["figures"].items()}
    assert {"closed": 2.7, "cross": 0.8, "open": 0.7} == allowed
    assert {"closed": 27, "cross": 8, "open": 7} == {s: f["kN"] for s, f in row["figures"].items()}


def test_forty_over_six_hundred_pounds_is_not_fifteen(capsys):
    """40 kN under 600 lbf is 14.987 (NIST SP 811): shown 14.98 and refused at 15:1."""
    status = margin("--figures", "40/-/-", "--load", "600 lbf", "--ratio", "15:1", "--json")
    (row,) = rows(capsys)
    assert (14.98, "not allowed") == (row["figures"]["closed"]["margin"], row["verdict"])
    assert 1 == status


def test_nine_thousand_pounds_over_six_hundred_is_fifteen(capsys):
    """9,000 lbf under 600 lbf is exactly 15 and keeps 15:1."""
    figures = ["--figures", "9000/-/- lbf"]
    assert 0 == margin(*figures, "--load", "600 lbf", "--ratio", "15", "--json")
    assert "allowed" == rows(capsys)[0]["verdict"]


def test_loads_are_rounded_up(capsys):
    """600 lbf is 2.66893… kN (NIST SP 811) and is shown as 2.67 and 2.669."""
    margin("--figures", "40/11/11", "--load", "600 lbf", "--ratio", "10")
    assert "Load 600 lbf: 2.67 kN, 600 lbf" in capsys.readouterr().out
    margin("--figures", "40/11/11", "--load", "600 lbf", "--ratio", "10", "--json")
    assert 2.669 == rows(capsys)[0]["load_kN"]


def test_the_table_shows_each_direction_and_the_caution(capsys):
    """The table has a line for each direction, unknown said so, and the caution below."""
    margin("--figures", "25/10/-", "--load", "2 people", "--ratio", "10")
    out = capsys.readouterr().out
    lines = [" ".join(line.split()) for line in out.splitlines()]
    assert "closed 25 kN 12.50 2.50 kN 562 lbf 2 people allowed" in lines
    assert "cross 10 kN 5.00 1.00 kN 224 lbf 1 person not allowed" in lines
    assert "open - unknown nothing unknown, not allowed" in lines
    assert out.rstrip().endswith(CAUTION)


def test_json_holds_nothing_else_and_the_caution(capsys):
    """JSON Lines alone on standard output, with the caution in each object."""
    margin("--figures", "27/8/7", "--figures", "25/10/-", "--load", "1 kN", "--json")
    printed = rows(capsys)
    assert ["25/10/-", "27/8/7"] == [row["connector"] for row in printed]
    assert {CAUTION} == {row["caution"] for row in printed}
    assert None is printed[0]["figures"]["open"]["margin"]
    assert "unknown, not allowed" == printed[0]["figures"]["open"]["verdict"]


@pytest.mark.parametrize(
    ("figures", "directions", "status"),
    [
        ("27/8/7", [], 0),
        ("9/8/7", [], 1),
        ("-/8/7", [], 1),
        ("27/8/7", ["closed"], 0),
        ("27/8/7", ["closed", "cross"], 1),
        ("25/10/-", ["closed", "cross"], 0),
        ("25/10/-", ["open"], 1),
    ],
)
def test_exit_status_follows_the_judged_directions(figures, directions, status):
    """Without --direction the closed one decides; else each direction named must be allowed."""
    named = [word for direction in directions for word in ("--direction", direction)]
    assert status == margin("--figures", figures, "--load", "1 kN", "--ratio", "10", *named)


def test_only_the_named_direction_is_shown(capsys):
    """With --direction cross there is no line for the other two."""
    margin("--figures", "27/8/7", "--load", "0.5 kN", "--direction", "cross", "--json")
    assert ["cross"] == list(rows(capsys)[0]["figures"])


def test_person_is_as_set(capsys):
    """Two people of 300 lbf each are 2.669 kN (2 x 1.334467, rounded up)."""
    margin("--figures", "40/11/11", "--load", "2 people", "--person", "300 lbf", "--json")
    (row,) = rows(capsys)
    assert 2.669 == row["load_kN"]
    assert 1.334467 == row["person_kN"]


# --- connectors of the register ----------------------------------------------------------------


def test_ids_weakest_first_with_the_settings(shelf, capsys):
    """Figures, ratio and person come from the register; the unknown figure comes first."""
    margin("A-1", "A-2", "A-3", "--load", "1 person", "--register", str(shelf), "--json")
    printed = rows(capsys)
    assert ["A-3", "A-2", "A-1"] == [row["connector"] for row in printed]
    assert {(15, 1.33, 1.33)} == {(r["ratio"], r["person_kN"], r["load_kN"]) for r in printed}
    assert 1.66 == printed[0]["figures"]["closed"]["allowed_kN"]


def test_settings_are_named_as_the_source_of_the_ratio(shelf, capsys):
    """A ratio that was not typed is shown with where it comes from."""
    margin("A-1", "--load", "1 kN", "--register", str(shelf))
    assert "Ratio 15:1, from the settings" in capsys.readouterr().out


def test_an_unknown_id_is_told_and_the_rest_goes_on(shelf, capsys):
    """One id that is not there gives a line on standard error and status 1; the others are shown."""
    arguments = ["--load", "1 kN", "--ratio", "10", "--register", str(shelf), "--json"]
    assert 1 == margin("A-1", "A-9", *arguments)
    captured = capsys.readouterr()
    assert ["A-1"] == [json.loads(line)["connector"] for line in captured.out.splitlines()]
    assert "no connector A-9 in the register" in captured.err
    assert 1 == len(captured.err.splitlines())


def test_a_quarantined_connector_is_barred_whatever_its_margin(shelf, capsys):
    """A margin does not release a quarantined connector: it is said, and the status is 1."""
    from stampreader.register import find_connector

    with open_register(shelf) as register:
        uid = find_connector(register, "A-1").uid
        register.record(Kind.QUARANTINED, uid, {"reason": "dropped"}, who="M. Grau", at=NOW)
    arguments = ["A-1", "--load", "1 kN", "--ratio", "10", "--register", str(shelf)]
    assert 1 == margin(*arguments)
    assert (
        "It is quarantined, not to be used: a margin does not change that."
        in capsys.readouterr().out
    )
    margin(*arguments, "--json")
    assert "quarantined, not to be used" == rows(capsys)[0]["not_to_be_used"]


def test_one_overdue_for_inspection_is_barred(shelf, capsys):
    """No margin speaks for a connector whose inspection is overdue."""
    from stampreader.register import find_connector, put_in_service

    with open_register(shelf) as register:
        own = [find_connector(register, "A-1")]
        put_in_service(register, own, who="M. Grau", at=NOW, on="2023-01-10")
    assert 1 == margin("A-1", "--load", "1 kN", "--register", str(shelf), "--json")
    assert "overdue for inspection since 2024-01-10" == rows(capsys)[0]["not_to_be_used"]


def test_typed_figures_make_no_register(tmp_path, monkeypatch):
    """Working with figures only leaves no file behind."""
    monkeypatch.setenv("STAMPREADER_REGISTER", str(tmp_path / "none.sqlite"))
    assert 0 == margin("--figures", "27/8/7", "--load", "1 kN")
    assert [] == list(tmp_path.iterdir())


# --- refusals ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--figures", "27/8/7", "--load", "2"], "the load '2' has no unit"),
        (["--figures", "27/8/7", "--load", "-2 kN"], "the load is negative"),
        (["--figures", "27/8/7", "--load", "0 kN"], "the load is zero"),
        (["--figures", "27/8/7", "--load", "nan kN"], "is not understood"),
        (["--figures", "27/8/7", "--load", "2 kN", "--ratio", "0"], "the ratio is zero"),
        (["--figures", "27/8/7", "--load", "2 kN", "--ratio", "-3"], "the ratio is negative"),
        (["--figures", "27/8/7", "--load", "2 kN", "--ratio", "0.5"], "would allow more than"),
        (["--figures", "27/8", "--load", "2 kN"], "is not three figures"),
        (
            ["--figures", "27/8/7", "--load", "2 kN", "--person", "0"],
            "the load of a person is zero",
        ),
        (["--load", "2 kN"], "no connector is named"),
    ],
)
def test_what_cannot_be_worked_out_is_wrong_usage(arguments, words, capsys):
    """Each mistake gives one line with what to do next, nothing on standard output, status 2."""
    assert 2 == margin(*arguments)
    captured = capsys.readouterr()
    assert "" == captured.out
    assert words in captured.err
    assert 1 == len(captured.err.splitlines())


def test_a_missing_load_is_wrong_usage(capsys):
    """Without a load there is nothing to work out."""
    assert 2 == margin("--figures", "27/8/7")
    assert "--load" in capsys.readouterr().err


def test_a_missing_register_is_said(tmp_path, capsys):
    """Ids without a register give one line, and no register is made."""
    path = tmp_path / "none.sqlite"
    assert 1 == margin("A-1", "--load", "1 kN", "--register", str(path))
    assert "there is no register" in capsys.readouterr().err
    assert not path.exists()

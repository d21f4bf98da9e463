"""The command `stampreader rig`, from the outside."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from stampreader.cli import run
from stampreader.cli.rig_new import Ready, ready_text
from stampreader.register import (
    add_by_hand,
    find_connector,
    open_register,
    put_in_service,
    quarantine,
)
from stampreader.words import CAUTION

Say = Callable[..., tuple[int, str, str]]


@pytest.fixture
def say(capsys: pytest.CaptureFixture[str]) -> Say:
    """Runs the command; status, standard output, standard error."""

    def _say(*arguments: object) -> tuple[int, str, str]:
        status = run(["rig", *map(str, arguments)])
        done = capsys.readouterr()
        return status, done.out, done.err

    return _say


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    """The ready two-leg anchor in a file."""
    path = tmp_path / "plan.toml"
    path.write_text(ready_text(Ready.TWO_LEG), "utf-8")
    return path


@pytest.mark.parametrize("kind", list(Ready))
def test_ready_plans_work(kind: Ready, say: Say, tmp_path: Path) -> None:
    """Each ready plan is written, explained in two lines, worked out, and keeps its ratio."""
    path = tmp_path / "new.toml"
    assert 0 == say("--new", kind, path)[0]
    status, out, _ = say(path, "--what-if", "--explain", "--kit")
    assert 0 == status
    lines = out.splitlines()
    assert lines[1].endswith(".")
    assert lines[2].endswith(".")
    assert "keeps the ratio 10:1" in out
    assert "left over at" in out
    assert CAUTION in out


def test_new_without_a_file_prints_the_plan(say: Say) -> None:
    """`--new` alone prints the plan, so that it can be looked at."""
    status, out, _ = say("--new", "3to1")
    assert (0, ready_text(Ready.THREE)) == (status, out)


def test_new_does_not_overwrite(say: Say, plan: Path) -> None:
    """A file that is there already is kept."""
    before = plan.read_bytes()
    status, _, err = say("--new", "2to1", plan)
    assert 2 == status
    assert "is there already" in err
    assert before == plan.read_bytes()


def test_table(say: Say, plan: Path) -> None:
    """Weakest first, the system's margin, angles with their convention, and the caution."""
    status, out, err = say(plan)
    assert 0 == status
    assert "" == err
    body = out[out.index("place") :].splitlines()
    assert body[1].split()[:3] == ["master", "connector", "closed"]
    assert "System: margin 13.50 at master (connector), keeps the ratio 10:1." in out
    assert "60° included, between the legs" in out
    assert CAUTION in out


def test_status_is_one_under_the_ratio(say: Say, plan: Path) -> None:
    """A ratio that is not kept is told by the exit status too."""
    status, out, _ = say(plan, "--ratio", "15:1")
    assert 1 == status
    assert "under the ratio 15:1" in out


def test_all_on_one_leg(say: Say, plan: Path) -> None:
    """With the option every leg is counted with the whole load."""
    out = say(plan, "--all-on-one-leg")[1]
    assert "left          connector  closed  2.00 kN" in out


def test_ways(say: Say, tmp_path: Path) -> None:
    """The way the ropes move changes the hand's force."""
    path = tmp_path / "p.toml"
    path.write_text(ready_text(Ready.THREE), "utf-8")
    hands = {}
    for way in ("raising", "lowering"):
        rows = [json.loads(line) for line in say(path, "--way", way, "--json")[1].splitlines()]
        hands[way] = rows[-1]["hand_kN"]
    assert hands["raising"] > 2 / 3 > hands["lowering"]


def test_json(say: Say, plan: Path) -> None:
    """JSON Lines and nothing else on standard output; the last one speaks of the system."""
    status, out, _ = say(
        plan, "--json", "--what-if", "--kit", "--explain", "--vary", "angle=60..150"
    )
    assert 0 == status
    rows = [json.loads(line) for line in out.splitlines()]
    kinds = {row["row"] for row in rows}
    assert {"hardware", "mishap", "varied", "crossing", "kit", "working", "system"} == kinds
    first = rows[0]
    assert ("master", 2, 27, 13.5) == (
        first["place"],
        first["force_kN"],
        first["strength_kN"],
        first["margin"],
    )
    assert 13.5 == rows[-1]["margin"]
    assert CAUTION == rows[-1]["caution"]
    crossing = next(row for row in rows if row["row"] == "crossing")
    assert 125.92 == crossing["value"]


def test_vary_shows_the_crossing(say: Say, plan: Path) -> None:
    """A varied number is shown step by step with the point where it crosses the ratio."""
    out = say(plan, "--vary", "angle=30..150")[1]
    assert "Keeps 10:1 up to 125.92°." in out


def test_fall_is_an_estimate(say: Say, plan: Path) -> None:
    """A fall stands apart, under its own heading, and changes no margin."""
    before = say(plan)[1].split("System:")[0]
    plan.write_text(
        plan.read_text("utf-8") + '\n[fall]\ndrop = 0.5\nrope = 2\nimpact_force = "9 kN"\n', "utf-8"
    )
    out = say(plan)[1]
    assert before == out.split("System:")[0]
    assert "ESTIMATE of a fall, not part of the margins above" in out
    rows = [json.loads(line) for line in say(plan, "--json")[1].splitlines()]
    assert {"estimate"} <= {row["row"] for row in rows}


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """A register with one connector in service, one quarantined and one overdue."""
    path = tmp_path / "register.sqlite"
    at = datetime.now(UTC)
    with open_register(path, create=True) as register:
        for id in ("C-1", "C-2", "C-3"):
            then = at - timedelta(days=800 if id == "C-3" else 3)
            fields = {
                "id": id,
                "maker": "Felsnase",
                "closed_kN": "24",
                "cross_kN": "8",
                "open_kN": "7",
            }
            add_by_hand(register, fields, who="Kim", at=then)
            put_in_service(register, [find_connector(register, id)], who="Kim", at=then)
        quarantine(register, [find_connector(register, "C-2")], "dropped", who="Kim", at=at)
    return path


def _with_ids(plan: Path, left: str, right: str) -> None:
    text = plan.read_text("utf-8")
    for id in (left, right):
        text = text.replace('figures = "24/8/7"', f'id = "{id}"', 1)
    plan.write_text(text, "utf-8")


def test_connectors_of_the_register(say: Say, plan: Path, book: Path) -> None:
    """Figures come from the register by id; the kit names them."""
    _with_ids(plan, "C-1", "C-1")
    status, out, _ = say(plan, "--register", book, "--kit")
    assert 0 == status
    assert "C-1 Felsnase" in out
    assert "20.78" in out


def test_quarantined_and_overdue_are_not_to_be_used(say: Say, plan: Path, book: Path) -> None:
    """What the register bars fails the plan, with a warning each."""
    _with_ids(plan, "C-2", "C-3")
    status, out, _ = say(plan, "--register", book)
    assert 1 == status
    assert "! C-2 Felsnase at left is quarantined, not to be used in the register." in out
    assert "! C-3 Felsnase at right is overdue for inspection since" in out
    assert "not to be used" in out


def test_unknown_id_names_the_line(say: Say, plan: Path, book: Path) -> None:
    """An id that is not in the register is refused with the line of the plan."""
    _with_ids(plan, "C-1", "C-99")
    status, out, err = say(plan, "--register", book)
    assert (2, "") == (status, out)
    assert "plan.toml, line 15: connector 'C-99' is not in the register" in err


@pytest.mark.parametrize(
    ("arguments", "status", "what"),
    [
        ((), 2, "no plan is named"),
        (("nowhere.toml",), 2, "there is no file nowhere.toml"),
        (("PLAN", "--ratio", "0"), 2, "zero"),
        (("PLAN", "--way", "sideways"), 2, "no way for ropes"),
        (("PLAN", "--vary", "angle"), 2, "not a range"),
        (("PLAN", "--picture", "rig.bmp"), 2, "cannot be written as '.bmp'"),
        (("PLAN", "--picture", "nowhere/at/all.svg"), 1, "cannot be written"),
        (("FOLDER",), 2, "cannot be read"),
        (("BINARY",), 2, "not text in UTF-8"),
        (("LONG",), 2, "too long for a plan"),
    ],
)
def test_wrong_use_is_one_line(
    arguments: tuple[str, ...], status: int, what: str, say: Say, plan: Path, tmp_path: Path
) -> None:
    """Wrong use ends in one line on standard error and nothing on standard output."""
    (tmp_path / "binary").write_bytes(b"\xff\xfe\x00")
    (tmp_path / "long").write_bytes(b"# long\n" * 40_000)
    named = {
        "PLAN": plan,
        "FOLDER": tmp_path,
        "BINARY": tmp_path / "binary",
        "LONG": tmp_path / "long",
    }
    found, out, err = say(*(named.get(a, a) for a in arguments))
    assert (status, "") == (found, out if status == 2 else "")
    assert what in err
    assert 1 == len(err.strip().splitlines())


def test_no_opencv_is_loaded(plan: Path) -> None:
    """Working out and drawing a rig loads neither OpenCV nor the training."""
    code = (
        "import sys; from stampreader.cli import run; "
        f"run(['rig', {str(plan)!r}, '--what-if', '--picture', {str(plan.with_suffix('.svg'))!r}]); "
        "sys.exit('cv2' in sys.modules or 'torch' in sys.modules)"
    )
    assert (
        0
        == subprocess.run([sys.executable, "-c", code], capture_output=True, check=False).returncode
    )

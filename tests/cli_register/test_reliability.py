"""How often sure was right, from what was read and what was confirmed."""

import json
from datetime import UTC, datetime
from decimal import Decimal

import pytest
from scipy import stats

from stampreader.cli import run
from stampreader.register import Kind, change_setting, open_register

NOW = datetime(2025, 3, 1, 12, tzinfo=UTC)


@pytest.fixture
def told(tmp_path, capsys):
    """Registers connectors of (closed confirmed, confidence; read as 27, state); gives the report."""
    path = tmp_path / "register.sqlite"

    def report(rows, ask_below=None, as_json=True, expect=0):
        with open_register(path, create=True) as book:
            for n, (kN, confidence, state) in enumerate(rows):
                figure = {"kN": "27", "state": state, "confidence": confidence, "doubts": []}
                read = [{"photo": f"{n:064x}", "stamp": 0, "readers": "tests 1", "crop": None,
                         "raw": {"figures": {"closed": figure}, "marks": [], "serial": None}}]  # fmt: skip
                fields = {"id": f"C-{n:04d}", "closed_kN": kN}
                body = {"fields": {k: v for k, v in fields.items() if v}, "read": read}
                book.record(Kind.REGISTERED, None, body, who="Ada", at=NOW)
            if ask_below:
                change_setting(book, "ask_below", ask_below, who="Ada", at=NOW)
        words = ["reliability", "--register", str(path), *(["--json"] if as_json else [])]
        capsys.readouterr()
        assert expect == run(words)
        out = capsys.readouterr().out
        return json.loads(out) if as_json else out

    return report


def test_bound_is_exact_and_too_few_are_called_so(told):
    """40 right ones show 7.2 % at best (scipy.stats.beta), not the promise."""
    found = told([("27", "0.9900", "sure")] * 40)
    assert (40, 0, "too-few", 598) == tuple(
        found[k] for k in ("connectors", "wrong", "verdict", "needed")
    )
    assert stats.beta.ppf(0.95, 1, 40) == pytest.approx(found["bound"])


def test_wrong_one_asks_for_a_higher_threshold(told):
    """One wrong at 0.91: raise to just above it; following the advice ends the complaint."""
    rows = [("27", "0.9900", "sure")] * 20 + [("21", "0.9100", "sure")]
    found = told(rows, expect=1)
    assert (21, 1, "broken") == tuple(found[k] for k in ("connectors", "wrong", "verdict"))
    assert stats.beta.ppf(0.95, 2, 20) == pytest.approx(found["bound"])
    assert (0.911, 20) == (found["raise_to"], found["raised_connectors"])
    after = told([], ask_below=str(Decimal(str(found["raise_to"]))))
    assert (20, 0, "too-few") == tuple(after[k] for k in ("connectors", "wrong", "verdict"))


def test_figures_that_were_asked_about_do_not_count(told):
    """Only sure is promised anything."""
    assert 0 == told([("21", "0.9900", "ask")])["connectors"]


def test_figure_left_out_by_the_person_was_wrong(told):
    """A sure figure that a person removed is a sure figure that was wrong."""
    assert 1 == told([(None, "0.5000", "sure")], expect=1)["wrong"]


def test_lines_for_a_person(told):
    """The words name the connector, both values and the setting to change."""
    out = told([("21", "0.9100", "sure")], as_json=False, expect=1)
    assert "C-0000: closed read as 27 kN, confirmed as 21 kN." in out
    assert "stampreader settings ask_below 0.911" in out


def test_wrong_at_full_confidence_has_no_threshold(told):
    """Nothing lies above 1: every figure has to be looked at."""
    assert "No threshold helps" in told([("21", "1.0000", "sure")], as_json=False, expect=1)


def test_promise_kept(told):
    """598 right ones are enough."""
    assert "kept" == told([("27", "0.9900", "sure")] * 598)["verdict"]

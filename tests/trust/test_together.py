"""Several processes at work on one register: nothing lost, nothing doubled, nobody waits for ever."""

import json
import re
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest
from jobs import Fault
from together import compare, confirming, work_together

from stampreader.register import (
    add_by_hand,
    check_register,
    export_lines,
    import_lines,
    open_register,
)

SCRIPT = Path(__file__).with_name("together.py")


def test_confirming_inspecting_and_reading_at_once():
    """Two confirm, one inspects, one takes photos in, one lists and checks, for a few seconds."""
    done = subprocess.run(
        [sys.executable, str(SCRIPT), "--seconds", "4"], capture_output=True, text=True, timeout=180
    )
    assert 0 == done.returncode, done.stdout + done.stderr
    counts = re.findall(r"(\w+)\s+(\d+) done", done.stdout)
    assert ["confirming", "confirming", "inspecting", "reading", "looking"] == [
        n for n, _ in counts
    ]
    assert all(int(count) > 0 for name, count in counts if name != "confirming"), done.stdout
    assert sum(int(count) for name, count in counts if name == "confirming") > 0
    assert "nothing lost, chain whole" in done.stdout


def written_between(path):
    """Enters another connector each time it is called, through a connection of its own."""
    count = iter(range(1000))

    def write(*_):
        with open_register(path) as other:
            fields = {"closed_kN": "27", "id": f"N-{next(count)}"}
            add_by_hand(other, fields, who="Bea", at=datetime.now(UTC))

    return write


def test_a_check_sees_one_moment(tmp_path):
    """What others write while the register is looked through is no fault of it."""
    register = tmp_path / "register.sqlite"
    with open_register(register, create=True) as book:
        write = written_between(register)
        write()
        assert [] == list(check_register(book, write))
        assert 7 == book.rows("SELECT count(*) AS n FROM events")[0]["n"]


def test_an_export_is_of_one_moment(tmp_path):
    """What others write while the register is exported is not in the file, in no part of it."""
    register = tmp_path / "register.sqlite"
    lines = []
    with open_register(register, create=True) as book:
        write = written_between(register)
        write()
        for line in export_lines(book, at=datetime.now(UTC)):
            lines.append(line.encode())
            write()
    head, *_, end = map(json.loads, lines)
    assert (1, 1, 3) == (head["events"], head["connectors"], end["lines"])
    with open_register(tmp_path / "other.sqlite", create=True) as other:
        import_lines(other, lines, source="x", who="Mel", at=datetime.now(UTC))
        assert [] == list(check_register(other))


def test_a_lost_update_is_noticed(tmp_path):
    """An acknowledged step that is not in the history is a fault, and so is one nobody was told."""
    register = tmp_path / "register.sqlite"
    with open_register(register, create=True) as book:
        add_by_hand(book, {"closed_kN": "27", "id": "H-0"}, who="Ada", at=datetime.now(UTC))
    told = {"done": {"inspected H-0": 1}, "slowest": 0.1, "refused": 0}
    with pytest.raises(Fault, match=r"lost: .*inspected H-0"):
        compare(register, [told])
    with pytest.raises(Fault, match="a step took 30"):
        compare(register, [told | {"done": {}, "slowest": 30.0}])


def test_a_process_that_falls_over_is_noticed(tmp_path):
    """A worker that ends with an exception fails the whole run."""

    def falls(worker):
        raise RuntimeError("a fault")

    with pytest.raises(Fault, match="a process ended with 1"):
        work_together(tmp_path, [confirming, falls], 0.2)

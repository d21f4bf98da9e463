"""Several processes at work on one register: nothing lost, nothing doubled, nobody waits for ever."""

import re
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest
from jobs import Fault
from together import compare, confirming, work_together

from stampreader.register import add_by_hand, open_register

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

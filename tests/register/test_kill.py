"""Killed at any moment: what was acknowledged is there, nothing is half there, the chain holds."""

import random
import signal
import subprocess
import sys
import time

import pytest

from stampreader.register import (
    check_register,
    confirm_arrivals,
    list_connectors,
    open_register,
    undo_last,
    waiting,
)

WORKER = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from stampreader.register import confirm_arrivals, open_register, undo_last, waiting

with open_register(Path(sys.argv[1])) as register:
    print("ready", flush=True)
    for turn in range(1000):
        left = waiting(register)
        if turn % 5 == 4 or not left:
            undone = undo_last(register, who="Ada", at=datetime.now(UTC))
            print("undone", *undone.ids, flush=True)
            continue
        events = confirm_arrivals(
            register, [(a, {"closed_kN": "27"}) for a in left[:3]], who="Ada", at=datetime.now(UTC)
        )
        print("confirmed", *(e.body["fields"]["id"] for e in events), flush=True)
"""


def killed_at_random(path, seconds):
    """Run the worker, kill it after a while; gives the lines it had acknowledged."""
    worker = subprocess.Popen(
        [sys.executable, "-c", WORKER, str(path)], stdout=subprocess.PIPE, text=True
    )
    assert "ready\n" == worker.stdout.readline()
    time.sleep(seconds)
    worker.send_signal(signal.SIGKILL)
    said = worker.stdout.read()
    worker.wait()
    whole, _, _ = said.rpartition("\n")
    return whole.splitlines()


def after(lines):
    """The ids that must be there after these acknowledgements."""
    ids = set()
    for line in lines:
        word, *named = line.split()
        ids = ids | set(named) if word == "confirmed" else ids - set(named)
    return ids


@pytest.mark.parametrize("seed", range(6))
def test_killed_while_deciding(register, arrive, seed):
    """After SIGKILL every acknowledged decision is there; at most the one under way is there too,
    whole; the file is sound and the work goes on."""
    arrive(register, 30)
    register.close()
    lines = killed_at_random(register.path, random.Random(seed).uniform(0.02, 0.4))
    with open_register(register.path) as book:
        there = {c.id for c in list_connectors(book)}
        assert [] == list(check_register(book))
        assert len(there) + len(waiting(book)) == 30
        assert len(there ^ after(lines)) in (0, 3)
        _goes_on(book)


def _goes_on(book):
    from datetime import UTC, datetime

    now = datetime.now(UTC)
    confirm_arrivals(book, [(a, {"closed_kN": "27"}) for a in waiting(book)], who="A", at=now)
    assert 30 == len(list_connectors(book))
    undo_last(book, who="A", at=now)
    assert [] == list(check_register(book))


def test_a_power_cut_loses_nothing_acknowledged(register, arrive, tmp_path, clock):
    """A copy of file and log taken while the register is open holds all that was acknowledged."""
    import shutil

    for arrival in arrive(register, 4):
        confirm_arrivals(register, [(arrival, {"closed_kN": "27"})], who="Ada", at=clock())
        copy = tmp_path / f"cut-{arrival.key}.sqlite"
        for suffix in ("", "-wal"):
            shutil.copy(f"{register.path}{suffix}", f"{copy}{suffix}")
        with open_register(copy) as cut:
            assert len(list_connectors(register)) == len(list_connectors(cut))
            assert [] == list(check_register(cut))

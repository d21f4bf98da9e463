"""Killed at any moment: nothing acknowledged is lost, nothing is doubled, every job completes.

As SQLite's own crash tests do, each kill is followed by a look at the file, and at a copy of it as
a power cut may leave it (sqlite.org, "How SQLite Is Tested", crash testing).
"""

import os
import random
import re
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import cv2
import numpy as np
import pytest
from jobs import Backup, Fault, Import, Intake, Merge, Migration, begun, log_size, power_cut, seen
from stage import Kill, Played, play

from stampreader.cli import ask
from stampreader.cli.common import now
from stampreader.register import add_by_hand, open_register

SCRIPT = Path(__file__).with_name("crash.py")
KILLS = 100


class Few(Intake):
    """The same with 15 photos."""

    size = 15


def test_a_hundred_kills():
    """Intake, confirm, import, merge, backup and migration under SIGKILL, at random moments and
    at fault points."""
    done = subprocess.run(
        [sys.executable, str(SCRIPT), "--kills", str(KILLS), "--seed", "7"],
        capture_output=True, text=True, timeout=900,
    )  # fmt: skip
    assert 0 == done.returncode, done.stdout + done.stderr
    found = re.findall(r"(intake|merge|import|backup|migration) (\d+)", done.stdout)
    counted = {name: int(n) for name, n in found}
    assert {"intake", "merge", "import", "backup", "migration"} == set(counted)
    assert KILLS == sum(counted.values()) and 20 <= counted["intake"]


PLACES = [
    (Few, "CREATE"),
    (Few, "INSERT INTO readings"),
    (Few, "INSERT INTO crops"),
    (Few, "INSERT INTO arrivals"),
    (Few, "INSERT INTO events"),
    (Few, "UPDATE arrivals"),
    (Few, "COMMIT"),
    (Merge, "INSERT INTO events"),
    (Merge, "COMMIT"),
    (Import, "INSERT INTO events"),
    (Import, "COMMIT"),
    (Backup, "before fsync"),
    (Backup, "before replace"),
    (Backup, "after replace"),
    (Migration, "CREATE"),
    (Migration, "before replace"),
    (Migration, "COMMIT"),
]


@pytest.mark.parametrize(("kind", "place"), PLACES, ids=lambda v: getattr(v, "name", v))
def test_killed_at_a_named_place(kind, place, tmp_path):
    """Between evidence and decision, before the commit, before and after the copy takes its place:
    the first time and the last, and then the job completes."""
    rehearsal = tmp_path / "rehearsal"
    rehearsal.mkdir()
    job = kind(rehearsal, random.Random(3))
    times = play(job.words(), Kill(of=place), job.patient).points
    assert times > 0
    job = kind(tmp_path, random.Random(3))
    for number in sorted({times, 1}, reverse=True):
        played = play(job.words(), Kill(at_point=number, of=place), job.patient)
        job.after(played)
        assert played.place in (place, "") and (played.killed or number == 1)
    played = play(job.words(), Kill(), job.patient)
    job.after(played)
    assert 0 == played.status
    job.complete()


def entered(path, *ids):
    """A register with these connectors."""
    with open_register(path, create=True) as book:
        for id in ids:
            add_by_hand(book, {"closed_kN": "27", "id": id}, who="Ada", at=now())


def test_the_harness_notices_a_lost_decision(tmp_path):
    """An acknowledgement on the screen without its entry is a fault, and so is one too many."""
    job = Few(tmp_path, random.Random(1))
    entered(job.register, "C-0001")
    with pytest.raises(Fault, match=r"lost: .*C-0002"):
        job.after(Played(">   confirmed: C-0001, C-0002\n"))
    job.ids = set()
    with pytest.raises(Fault, match=r"not asked for: .*C-0001"):
        job.after(Played(""))


def test_a_line_the_screen_never_finished_acknowledges_nothing(tmp_path):
    """Killed while the line was being written, half an id is no id."""
    job = Few(tmp_path, random.Random(1))
    job.after(Played(">   confirmed: C-0001, C-00"))
    assert set() == job.ids


def test_a_kill_before_the_first_byte(tmp_path):
    """SQLite makes the file before it writes into it: a register of no bytes is none yet, and the
    same command begins it."""
    job = Few(tmp_path, random.Random(1))
    job.register.touch()
    job.after(Played(""))
    assert 0 == play(job.words(), Kill(), job.patient).status
    assert job.is_done()


def test_the_harness_notices_an_acknowledgement_that_comes_too_early(tmp_path):
    """A program that says so first and stores after is caught by a kill in between."""
    job = Few(tmp_path, random.Random(1))

    def hasty():
        store = ask.carry_out

        def too_early(desk, effect):
            print("  confirmed: C-0001 to C-0005 (5)")
            return store(desk, effect)

        ask.carry_out = too_early

    kill = Kill(at_point=1, of="INSERT INTO events")
    played = play(job.words(), kill, job.patient, prepare=hasty)
    assert played.killed
    with pytest.raises(Fault, match=r"lost: .*C-0005"):
        job.after(played)


def test_the_power_cut_takes_what_was_not_flushed(tmp_path):
    """The simulated cut is a real one: without its log the copy is the register of before."""
    path = tmp_path / "register.sqlite"
    entered(path, "C-1")
    with open_register(path) as book:
        add_by_hand(book, {"closed_kN": "27", "id": "C-2"}, who="Ada", at=now())
        assert log_size(path) > 0
        chance = random.Random(2)
        kept = [len(seen(power_cut(path, chance, 0))[0]) for _ in range(40)]
    assert {1, 2} == set(kept)


def alive_with(text):
    """Processes whose command line or surroundings hold a text."""
    found = []
    for place in Path("/proc").glob("[0-9]*"):
        try:
            known = (place / "cmdline").read_bytes() + (place / "environ").read_bytes()
            dead = " Z " in (place / "stat").read_text("utf-8")
        except OSError:
            continue
        if text.encode() in known and not dead:
            found.append(int(place.name))
    return found


def test_a_real_intake_killed_while_it_reads(tmp_path):
    """With real readers in worker processes: what was read is kept, no worker stays behind, and the
    same command reads only the rest."""
    register, photos = tmp_path / "r.sqlite", tmp_path / "photos"
    photos.mkdir()
    for number in range(8):
        grey = np.full((1200, 1600), 100 + number, np.uint8)
        cv2.imwrite(str(photos / f"{number}.png"), grey)
    words = [sys.executable, "-m", "stampreader", "intake", str(photos), "--readers", "net",
             "--jobs", "1", "--delivery", "D", "--who", "Ada", "--register", str(register)]  # fmt: skip
    marked = os.environ | {"TMPDIR": str(tmp_path)}  # the workers inherit it, so they can be found
    victim = subprocess.Popen(words, stderr=subprocess.DEVNULL, env=marked)
    kept = 0
    for _ in range(600):
        time.sleep(0.05)
        kept = readings_in(register)
        if kept >= 2:
            break
    victim.kill()
    victim.wait()
    kept = readings_in(register)
    assert 2 <= kept < 8
    seen(register)
    for _ in range(100):
        if not (left := alive_with(f"TMPDIR={tmp_path}")):
            break
        time.sleep(0.1)
    assert [] == left, "workers stay behind"
    again = subprocess.run(words, capture_output=True, text=True, env=marked, timeout=120)
    assert f"{8 - kept} photos read, {kept} read before" in again.stderr, again.stderr


def readings_in(path):
    """How many readings are kept; 0 while the register is being made."""
    if not begun(path):
        return 0
    try:
        with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as conn:
            return conn.execute("SELECT count(*) FROM readings").fetchone()[0]
    except sqlite3.OperationalError:
        return 0

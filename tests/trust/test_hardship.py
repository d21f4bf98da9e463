"""An intake at the terminal meets a full disk, lost permissions and a register held by another:
one clear line each time, nothing acknowledged is lost, and afterwards it completes."""

import os
import random
import resource
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import warnings
from pathlib import Path

import pytest
from jobs import Intake
from stage import Kill, play, warm_up

SCRIPT = Path(__file__).with_name("full_disk.py")
BARE = (["unshare", "--mount"], ["unshare", "--user", "--map-root-user", "--mount"])


class Few(Intake):
    """The same with 15 photos."""

    size = 15


def completes(job):
    """Run the job undisturbed to its end."""
    played = play(job.words(), Kill(), job.patient)
    assert 0 == played.status, played.shown[-800:]
    job.after(played)
    job.complete()


def last_line(played):
    """The last line on the screen."""
    return played.shown.rstrip("\n").rpartition("\n")[2]


def may_mount(way, folder):
    """Whether this machine lets a small file system be mounted in this way."""
    mount = ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(folder)]
    if shutil.which("unshare") is None:
        return False
    return 0 == subprocess.run([*way, *mount], capture_output=True, timeout=30).returncode


def test_a_disk_that_really_fills_up(tmp_path):
    """A file system of 8 MB, full at ten different places. Where none may be mounted this is said
    aloud, and the limit on the size of a file (below) stands in for it."""
    way = next((way for way in BARE if may_mount(way, tmp_path)), None)
    if way is None:
        warnings.warn("no file system may be mounted here: full_disk.py was not run", stacklevel=1)
        assert not may_mount(BARE[0], tmp_path)
        return
    script = f"mount -t tmpfs -o size=8m tmpfs {tmp_path} && {sys.executable} {SCRIPT} {tmp_path}"
    done = subprocess.run([*way, "sh", "-c", script], capture_output=True, text=True, timeout=300)
    assert 0 == done.returncode, done.stdout + done.stderr
    assert 10 == done.stdout.count("kB of room"), done.stdout


@pytest.mark.parametrize("room_kB", [0, 30, 150, 300, 500, 700, 900])
def test_no_file_may_grow_further(tmp_path, room_kB):
    """The same with a limit on the size of files, which every machine allows."""
    warm_up()
    job = Few(tmp_path, random.Random(room_kB))
    most = room_kB * 1024
    played = play(
        job.words(), Kill(), job.patient,
        prepare=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (most, most)),
    )  # fmt: skip
    assert 1 == played.status and "stampreader: " in last_line(played), played.shown[-800:]
    assert "disk" in last_line(played) and "Traceback" not in played.shown
    job.after(played)
    completes(job)


def ordinary():
    """Leave the rights of root, if this runs as root: to root every file is writable."""
    if os.geteuid() == 0:
        os.setgroups([])
        os.setgid(65534)
        os.setuid(65534)


@pytest.fixture
def open_folder():
    """A folder every user can reach and write (pytest's own folders are private)."""
    folder = Path(tempfile.mkdtemp(prefix="hardship-"))
    folder.chmod(0o777)
    yield folder
    folder.chmod(0o777)
    shutil.rmtree(folder)


def test_permission_lost_in_the_middle(open_folder):
    """While a person answers, file and folder become unwritable: what is then acknowledged is
    stored, the next command says in a line that it may not write, and given the right again the
    work completes."""
    job = Few(open_folder, random.Random(5))
    asked = []

    def answer(shown):
        asked.append(shown)
        if len(asked) == 2:
            for path in open_folder.glob("intake.sqlite*"):
                path.chmod(0o444)
            open_folder.chmod(0o555)
        return "y" if len(asked) < 3 else "q"

    played = play(job.words(), Kill(), answer, prepare=ordinary)
    assert 0 == played.status or "stampreader: " in last_line(played), played.shown[-800:]
    refused = play(job.words(), Kill(), job.patient, prepare=ordinary)
    assert 1 == refused.status
    assert "for reading only" in last_line(refused) or "permission" in last_line(refused)
    open_folder.chmod(0o777)
    for path in open_folder.glob("intake.sqlite*"):
        path.chmod(0o666)
    job.after(played)
    assert 5 <= len(job.ids)
    completes(job)


def test_a_register_held_for_seconds_at_the_prompt(tmp_path):
    """Another program writes for seconds: the answer waits, is refused in a line, and asked again;
    a short wait is not even noticed."""
    job = Few(tmp_path, random.Random(6))
    holder, asked = [], []

    def answer(shown):
        asked.append(shown)
        if len(asked) == 2:
            holder.append(sqlite3.connect(job.register, isolation_level=None))
            holder[0].execute("BEGIN IMMEDIATE")
        elif len(asked) == 3:
            holder[0].execute("ROLLBACK")
            holder[0].close()
        return job.patient(shown)

    played = play(job.words(), Kill(), answer)
    assert 0 == played.status
    assert "is being written by another process" in asked[2]
    assert 5.0 <= played.seconds < 20
    job.after(played)
    job.complete()

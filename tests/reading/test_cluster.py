"""Reading on a real local Dask cluster of worker processes, one of which is killed in the middle."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import cv2
import numpy as np
import plug_desk
import pytest
from distributed import LocalCluster

from stampreader.errors import ReaderError
from stampreader.photo import Limits
from stampreader.reading import cluster as ours
from stampreader.reading import read_many, read_on_cluster
from stampreader.reading.pool import WINDOW
from stampreader.words import State

HERE = str(Path(__file__).parent)


@pytest.fixture(scope="module")
def machines():
    """A scheduler with two worker processes of one thread each."""
    # the workers import the plugs by name, as they import stampreader itself
    before = os.environ.get("PYTHONPATH", "")
    os.environ["PYTHONPATH"] = f"{HERE}{os.pathsep}{before}"
    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0",
        host="127.0.0.1", silence_logs=50,
    ) as cluster:  # fmt: skip
        yield cluster
    os.environ["PYTHONPATH"] = before


def photos(folder, *names):
    """Grey photos, each with bytes of its own."""
    paths = [folder / name for name in names]
    for number, path in enumerate(paths):
        grey = np.full((900, 1200), 128, np.uint8)
        grey[0, : 1 + number] = 64
        cv2.imwrite(str(path), grey)
    return paths


def read(paths, machines, **options):
    """All attempts of a run with the plug desk."""
    options = {"make_desk": plug_desk.plugged, "scheduler": machines.scheduler_address} | options
    return list(read_on_cluster(paths, **options))


def without_time(attempts):
    """What came of the photos, but for how long it took."""
    return [
        (a.path, a.failure, a.crops, a.reading and (a.reading.sha256, a.reading.stamps))
        for a in attempts
    ]


def test_the_same_as_on_one_machine(tmp_path, machines, monkeypatch):
    """Same results in the same order as the pool of this machine, bad photos and crops included,
    under the names as given."""
    names = ["slow.png", "1.png", "crash.png", "2.png", "raise.png", "gone.png", "3.png", "4.png"]
    photos(tmp_path, *names)
    (tmp_path / "gone.png").unlink()
    monkeypatch.chdir(tmp_path)
    here = list(read_many(names, jobs=2, crops=True, make_desk=plug_desk.plugged))
    there = read(names, machines, crops=True)
    assert without_time(here) == without_time(there)
    assert names == [a.path for a in there]
    assert ["crash.png", "raise.png", "gone.png"] == [a.path for a in there if a.failure]


def test_a_photo_that_hangs_takes_only_itself(tmp_path, machines):
    """Its time is limited on the machine that reads it."""
    paths = photos(tmp_path, "1.png", "hang.png", "2.png")
    attempts = read(paths, machines, limits=Limits(max_seconds=2))
    assert [False, True, False] == [a.failure is not None for a in attempts]
    assert "took longer than 2 s" in attempts[1].failure.message


def test_a_machine_killed_in_the_middle(tmp_path, machines):
    """What a lost worker was reading is read again by another; nothing is lost, doubled or moved."""
    paths = photos(tmp_path, *(f"slow-{n}.png" for n in range(10)))
    attempts = read_on_cluster(
        paths, scheduler=machines.scheduler_address, make_desk=plug_desk.plugged
    )
    got = [next(attempts)]
    victim = next(iter(machines.workers.values()))
    lost = victim.pid
    os.kill(lost, signal.SIGKILL)
    got += attempts
    assert [str(p) for p in paths] == [a.path for a in got]
    assert {State.SURE} == {a.reading.outcome for a in got}
    assert lost not in {w.pid for w in machines.workers.values() if w.status.name == "running"}


def test_only_a_window_is_under_way(tmp_path, machines):
    """While the first photo takes its time, no more than a few a thread are read ahead."""
    paths = photos(tmp_path, "hang.png", *(f"{n}.png" for n in range(30)))
    attempts = read_on_cluster(
        paths, scheduler=machines.scheduler_address, make_desk=plug_desk.plugged,
        limits=Limits(max_seconds=2),
    )  # fmt: skip
    assert next(attempts).failure is not None
    assert 2 <= len(list(tmp_path.glob("*.begun"))) <= 2 * WINDOW
    assert 30 == len(list(attempts))


def test_leaving_early_calls_the_rest_off(tmp_path, machines):
    """A caller that stops leaves nothing to be read."""
    paths = photos(tmp_path, *(f"slow-{n}.png" for n in range(30)))
    attempts = read_on_cluster(
        paths, scheduler=machines.scheduler_address, make_desk=plug_desk.plugged
    )
    next(attempts)
    attempts.close()
    time.sleep(1.0)
    begun = len(list(tmp_path.glob("*.begun")))
    time.sleep(1.0)
    assert begun == len(list(tmp_path.glob("*.begun"))) < 12


def test_readers_that_cannot_be_loaded_there(tmp_path, machines):
    """When the readers themselves are broken on the machines, the run says so at once."""
    with pytest.raises(ReaderError, match="the weights are missing"):
        read(photos(tmp_path, "1.png"), machines, make_desk=plug_desk.broken)


def test_another_version_on_the_machines(tmp_path, machines, monkeypatch):
    """Machines with another stampreader would give other readings: refused."""
    monkeypatch.setattr(ours, "__version__", "99.0")
    with pytest.raises(ReaderError, match=r"version 99\.0 was asked for"):
        read(photos(tmp_path, "1.png"), machines)


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:9", "nonsense"])
def test_no_scheduler_there(tmp_path, address, monkeypatch):
    """An address where nobody answers: one line with what to do."""
    monkeypatch.setattr(ours, "CONNECT_SECONDS", 1.0)
    with pytest.raises(ReaderError, match="there is no scheduler at") as told:
        list(read_on_cluster(photos(tmp_path, "1.png"), scheduler=address))
    assert "dask scheduler" in told.value.remedy


def test_a_scheduler_without_machines(tmp_path):
    """None at the start, or all lost on the way: it is waited for a while, then told."""
    with LocalCluster(
        n_workers=0, processes=True, dashboard_address=":0", host="127.0.0.1", silence_logs=50
    ) as empty:
        started = time.monotonic()
        with pytest.raises(ReaderError, match="has no machine to read with"):
            read(photos(tmp_path, "1.png"), empty, wait_s=1.0)
        assert time.monotonic() - started < 10


def test_an_intake_on_the_machines(tmp_path, machines):
    """`intake --scheduler` reads there and keeps here; what was read is not read again."""
    photos(tmp_path, *(f"{n}.png" for n in range(5)))
    command = [sys.executable, "-m", "stampreader", "intake", str(tmp_path), "--readers", "net",
               "--delivery", "D", "--who", "Ada", "--register", str(tmp_path / "r.sqlite"),
               "--scheduler", machines.scheduler_address]  # fmt: skip
    first, second = (
        subprocess.run(command, capture_output=True, text=True, timeout=120) for _ in range(2)
    )
    assert "5 photos read, 0 read before" in first.stderr, first.stderr
    assert "0 photos read, 0 read before, 5 known already" in second.stderr, second.stderr


def test_jobs_and_a_scheduler_are_not_given_together(tmp_path):
    """Workers here, or machines there: one of them, said in a line."""
    done = subprocess.run(
        [sys.executable, "-m", "stampreader", "read", str(tmp_path), "--jobs", "2",
         "--scheduler", "tcp://127.0.0.1:9"], capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert 2 == done.returncode and "Give one of them" in done.stderr
    assert 1 == len(done.stderr.splitlines())


def test_the_command_and_its_resumption(tmp_path, machines):
    """`read --scheduler --json`, cut off, goes on with `--earlier`: the same lines, and photos with
    a line are not read again, whatever they are called now."""
    paths = photos(tmp_path, *(f"{n}.png" for n in range(6)))
    command = [sys.executable, "-m", "stampreader", "read", "--json", "--readers", "net"]
    scheduler = ["--scheduler", machines.scheduler_address]

    def run(*words):
        done = subprocess.run([*command, *map(str, words)], capture_output=True, timeout=120)
        assert 0 == done.returncode, done.stderr
        return done.stdout

    whole = run(*scheduler, *paths)
    assert [str(p) for p in paths] == [json.loads(line)["photo"] for line in whole.splitlines()]
    cut = tmp_path / "cut.jsonl"
    lines = whole.splitlines(keepends=True)
    cut.write_bytes(b"".join(lines[:3]) + lines[3][:20])
    paths[0] = paths[0].rename(tmp_path / "renamed.png")
    again = run("--earlier", cut, *scheduler, *paths).splitlines()
    assert 6 == len(again)
    assert [*(json.loads(line)["seconds"] for line in lines[:3])] == [
        json.loads(line)["seconds"] for line in again[:3]
    ]
    strip = {"seconds": 0, "photo": ""}
    assert [json.loads(line) | strip for line in lines] == [
        json.loads(line) | strip for line in again
    ]
    assert str(paths[0]) == json.loads(again[0])["photo"]

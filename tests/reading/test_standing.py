"""Workers that stay: loaded once, used from several threads, replaced when a photo breaks one."""

import os
import signal
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from time import monotonic

import cv2
import numpy as np
import plug_desk
import pytest

from stampreader.errors import ReaderError
from stampreader.photo import Limits
from stampreader.reading import StandingCrew


@pytest.fixture
def crew():
    """One worker with plugged readers."""
    made = StandingCrew(make_desk=plug_desk.plugged, limits=Limits(max_seconds=2))
    yield made
    made.close()


@pytest.fixture
def photo(tmp_path):
    """Makes photos whose names tell the readers what to do."""

    def made(name, width=640):
        path = tmp_path / name
        cv2.imwrite(str(path), np.full((480, width, 3), 120, np.uint8))
        return path

    return made


def test_photos_are_read_one_after_the_other_by_the_same_worker(crew, photo):
    """The readers are loaded once; each photo gives a reading with a crop of every stamp."""
    for number in range(3):
        attempt = crew.read(photo(f"{number}.jpg"))
        assert attempt.failure is None
        assert len(attempt.reading.stamps) == len(attempt.crops) >= 1
    assert 1 == len(crew._living)


@pytest.mark.parametrize(
    ("name", "told"), [("crash.jpg", "crashed"), ("hang.jpg", "longer than 2 s")]
)
def test_a_photo_that_breaks_its_worker_takes_only_itself(crew, photo, name, told):
    """The next photo is read by a fresh worker."""
    assert told in crew.read(photo(name)).failure.message
    assert crew.read(photo("good.jpg")).reading is not None


def test_a_worker_that_died_while_idle_is_replaced(crew, photo):
    """Killed between two photos, by the system for instance: no photo fails for it."""
    crew.warm_up()
    (worker,) = crew._living
    os.kill(worker._process.pid, signal.SIGKILL)
    worker._process.join()
    assert crew.read(photo("good.jpg")).reading is not None


def test_a_glance_reads_no_stamp(crew, photo):
    """A glance gives a smaller picture and the labels; the readers are not asked."""
    path = photo("crash.jpg", width=1600)
    seen = crew.glance(path, 400)
    view = cv2.imdecode(np.frombuffer(seen.view, np.uint8), cv2.IMREAD_COLOR)
    assert (120, 400, 3) == view.shape
    assert (1600, 480) == seen.reading.size
    assert () == seen.reading.stamps


def test_many_threads_wait_for_their_turn(photo):
    """Two workers, eight photos from eight threads: each gets its own photo's answer."""
    crew = StandingCrew(make_desk=plug_desk.plugged, jobs=2)
    paths = [photo(f"{number}.jpg", width=500 + number) for number in range(8)]
    try:
        with ThreadPoolExecutor(8) as threads:
            attempts = list(threads.map(crew.read, paths))
    finally:
        crew.close()
    assert [500 + n for n in range(8)] == [a.reading.size[0] for a in attempts]


@pytest.mark.parametrize("make", [plug_desk.broken, plug_desk.faulty, plug_desk.stillborn])
def test_readers_that_cannot_be_loaded_are_told(make, photo):
    """Weights missing, a fault, a process that ends: an error at the start, a failure later."""
    crew = StandingCrew(make_desk=make)
    try:
        with pytest.raises(ReaderError):
            crew.warm_up()
        assert crew.read(photo("good.jpg")).failure is not None
    finally:
        crew.close()


def test_closing_ends_a_photo_that_is_being_read(crew, photo):
    """Nobody waits for a photo once the crew is closed."""
    crew.warm_up()
    path = photo("hang.jpg")
    with ThreadPoolExecutor(1) as thread:
        waiting = thread.submit(partial(crew.read, path))
        deadline = monotonic() + 10
        while not path.with_suffix(".begun").exists() and monotonic() < deadline:
            pass
        crew.close()
        assert waiting.result(timeout=10).failure is not None
    assert crew.read(path).failure is not None

"""Many photos in workers: order, one bad photo takes only itself, limits, nothing left behind."""

import multiprocessing
import resource
import time

import cv2
import numpy as np
import plug_desk
import pytest

from stampreader.errors import ReaderError
from stampreader.photo import Limits
from stampreader.reading import default_readers, read_many
from stampreader.reading.pool import WINDOW
from stampreader.words import State


def photos(folder, *names):
    """Grey photos with the names given, 1200 × 900."""
    grey = np.full((900, 1200), 128, np.uint8)
    paths = [folder / name for name in names]
    for path in paths:
        cv2.imwrite(str(path), grey)
    return paths


def read(paths, **options):
    """All attempts of a run with the plug desk."""
    return list(read_many(paths, make_desk=plug_desk.plugged, **options))


def test_results_in_order(tmp_path):
    """A slow photo at the front does not let the others overtake it in the output."""
    paths = photos(tmp_path, "slow.png", *(f"{n}.png" for n in range(12)))
    attempts = read(paths, jobs=3)
    assert [str(p) for p in paths] == [a.path for a in attempts]
    assert {State.SURE} == {a.reading.outcome for a in attempts}
    assert all(a.reading.photo == a.path for a in attempts)


@pytest.mark.parametrize(
    "bad, reason",
    [
        ("crash.png", "crashed"),
        ("hang.png", "took longer than 2 s"),
        ("raise.png", "unexpected RuntimeError: a plug"),
        ("eat.png", "more memory than is allowed"),
    ],
)
def test_one_bad_photo_takes_only_itself(tmp_path, bad, reason):
    """Crash, hang, fault and memory each fail one photo; all others are read."""
    paths = photos(tmp_path, "1.png", "2.png", bad, "3.png", "4.png")
    attempts = read(paths, jobs=2, limits=Limits(max_seconds=2))
    assert [False, False, True, False, False] == [a.failure is not None for a in attempts]
    failure = attempts[2].failure
    assert "photo" == failure.kind
    assert bad in failure.message and reason in failure.message and "\n" not in failure.message


def test_many_bad_photos(tmp_path):
    """Half of the workers' photos crash; the run still ends with every good photo read."""
    names = [f"{'crash' if n % 2 else 'good'}{n}.png" for n in range(10)]
    attempts = read(photos(tmp_path, *names), jobs=2)
    assert [n % 2 == 1 for n in range(10)] == [a.failure is not None for a in attempts]


def test_missing_and_broken_files(tmp_path):
    """Files that cannot be read are failures with their line, in their place."""
    good = photos(tmp_path, "1.png")
    (tmp_path / "bad.jpg").write_bytes(b"no picture")
    paths = [tmp_path / "gone.jpg", *good, tmp_path / "bad.jpg"]
    first, second, third = read(paths)
    assert "there is no file" in first.failure.message
    assert State.SURE == second.reading.outcome
    assert "not a picture" in third.failure.message


def test_a_caller_that_takes_its_time(tmp_path):
    """While a person answers a question, results wait and no worker is taken for hung."""
    attempts = read_many(
        photos(tmp_path, *(f"{n}.png" for n in range(6))),
        jobs=2,
        limits=Limits(max_seconds=0.5),
        make_desk=plug_desk.plugged,
    )
    seen = []
    for attempt in attempts:
        seen.append(attempt.failure)
        time.sleep(0.7)
    assert [None] * 6 == seen


def test_photo_damaged_in_the_middle(tmp_path):
    """A JPEG with a spoilt part is read, with a note that its decoder complained."""
    noise = np.random.default_rng(4).integers(0, 256, (900, 1200), np.uint8)
    data = bytearray(cv2.imencode(".jpg", noise)[1].tobytes())
    data[len(data) // 2 : len(data) // 2 + 400] = bytes(400)
    (tmp_path / "spoilt.jpg").write_bytes(data)
    spoilt, good = read([tmp_path / "spoilt.jpg", *photos(tmp_path, "1.png")], jobs=1)
    assert any("damaged in places" in note for note in spoilt.reading.notes)
    assert () == good.reading.notes


def test_crops_and_picture(tmp_path):
    """Crops and the drawn picture come as files of the kinds asked for."""
    (attempt,) = read(photos(tmp_path, "1.png"), crops=True, picture=".png")
    assert 1 == len(attempt.crops) == len(attempt.reading.stamps)
    assert b"\xff\xd8" == attempt.crops[0][:2]
    assert b"\x89PNG" == attempt.picture[:4]


def test_readers_that_cannot_be_loaded(tmp_path):
    """When the readers themselves are broken the run says so at once."""
    with pytest.raises(ReaderError, match="the weights are missing"):
        list(read_many(photos(tmp_path, "1.png"), make_desk=plug_desk.broken))


def test_readers_with_a_fault(tmp_path):
    """A fault while the readers load is told, not swallowed with the process."""
    with pytest.raises(ReaderError, match="ZeroDivisionError"):
        list(read_many(photos(tmp_path, "1.png"), make_desk=plug_desk.faulty))


def test_worker_that_never_starts(tmp_path):
    """A process that dies before it is ready is not tried for ever."""
    with pytest.raises(ReaderError, match="does not start"):
        list(read_many(photos(tmp_path, "1.png", "2.png"), make_desk=plug_desk.stillborn))


def test_no_photos():
    """Nothing to read starts nothing."""
    assert [] == list(read_many([]))


def test_leaving_early_ends_the_workers(tmp_path):
    """A caller that stops after one photo leaves no process behind."""
    paths = photos(tmp_path, *(f"{n}.png" for n in range(20)))
    attempts = read_many(paths, jobs=2, make_desk=plug_desk.plugged)
    assert next(attempts).reading is not None
    attempts.close()
    end = time.monotonic() + 5
    while multiprocessing.active_children() and time.monotonic() < end:
        time.sleep(0.05)
    assert [] == multiprocessing.active_children()


def test_only_a_window_is_under_way(tmp_path):
    """While the first photo takes its time, no more than a few others are read ahead."""
    paths = photos(tmp_path, "hang.png", *(f"{n}.png" for n in range(40)))
    limits = Limits(max_seconds=3)
    attempts = read_many(paths, jobs=2, limits=limits, make_desk=plug_desk.plugged)
    assert next(attempts).failure is not None
    assert 2 <= len(list(tmp_path.glob("*.begun"))) <= 2 * WINDOW
    assert 40 == len(list(attempts))


def test_memory_stays_flat(tmp_path):
    """Over 300 photos the worker grows by less than 10 kB a photo."""
    paths = photos(tmp_path, *(f"{n:03}.png" for n in range(300)))
    assert 300 == len(read(paths, jobs=1, crops=True))
    pages = [int(p.with_suffix(".begun").read_text("utf-8")) for p in paths]
    slope = np.polyfit(range(200), pages[100:], 1)[0] * resource.getpagesize()
    print(f"{slope:.0f} bytes a photo")
    assert slope < 10_000


@pytest.mark.tesseract
def test_installed_readers_by_name():
    """A reader asked for by name is the one that is given."""
    (reader,) = default_readers(["tesseract"])
    assert "tesseract" == reader.name

"""Seconds, memory and throughput of reading, measured where `bench.py` runs."""

from __future__ import annotations

import multiprocessing
import statistics
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import cv2
import numpy as np

MEGAPIXELS_12 = 11_900_000

_PEAK = """
import resource, sys
from stampreader.photo import load_photo
from stampreader.reading import default_desk
from stampreader.reading.walk import read_with
read_with(default_desk(sys.argv[2].split(",")), load_photo(sys.argv[1]))
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
if sys.platform == "linux":  # ru_maxrss there also holds what the parent had before exec
    lines = open("/proc/self/status").read().splitlines()
    peak = next(int(x.split()[1]) for x in lines if x.startswith("VmHWM"))
print(peak)
"""


def read_warm(
    photos: Sequence[Path], names: Sequence[str]
) -> tuple[list[dict[str, Any]], list[float]]:
    """Records and seconds of each photo in this process, file to reading; one photo read before."""
    from stampreader.photo import load_photo
    from stampreader.reading import as_record, default_desk
    from stampreader.reading.walk import read_with

    desk = default_desk(names)
    read_with(desk, load_photo(photos[0]))
    records, seconds = [], []
    for path in photos:
        start = time.perf_counter()
        reading = read_with(desk, load_photo(path))
        seconds.append(time.perf_counter() - start)
        records.append(as_record(reading))
    return records, seconds


def peak_MB(photo: Path, names: Sequence[str]) -> float:
    """Most memory a process of its own held that read one photo, start to end."""
    done = subprocess.run(
        [sys.executable, "-c", _PEAK, str(photo), ",".join(names)],
        check=True, capture_output=True, text=True,
    )  # fmt: skip
    return int(done.stdout.split()[-1]) * 1024 / 1e6


def folder_seconds(photos: Sequence[Path], names: Sequence[str], jobs: int = 2) -> float:
    """Seconds to read a folder with workers, their start included."""
    from stampreader.reading import read_many

    start = time.perf_counter()
    for attempt in read_many(photos, readers=names, jobs=jobs):
        if attempt.reading is None:
            raise SystemExit(f"{attempt.path}: {attempt.failure}")
    return time.perf_counter() - start


def decode_seconds(photos: Sequence[Path], flag: int, jobs: int = 2) -> float:
    """Seconds to do nothing but decode the same files with as many processes, start left out."""
    with multiprocessing.get_context("spawn").Pool(jobs) as pool:
        pool.map(_decode, [(str(photos[0]), flag)] * jobs * 2, 1)
        start = time.perf_counter()
        pool.map(_decode, [(str(path), flag) for path in photos], 1)
        return time.perf_counter() - start


def _decode(job: tuple[str, int]) -> int:
    cv2.setNumThreads(1)
    return int(cv2.imread(*job).shape[0])


def times(seconds: Sequence[float]) -> dict[str, float]:
    """Median and 95th percentile."""
    return {"median": statistics.median(seconds), "p95": float(np.percentile(seconds, 95))}


def pixels(photo: Path) -> int:
    """Pixels of a photo, from its header."""
    from PIL import Image

    with Image.open(photo) as picture:
        return picture.width * picture.height

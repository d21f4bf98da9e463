"""Very many photos: does memory stay flat, and what do two workers bring?

    python tests/bench_many.py --photos 2000 [--jobs 2] [--desk script|real]
    python tests/bench_many.py --efficiency 24 [--desk real]

The photos are pictures of `test_images/` made smaller, each with bytes of its own. With `script` the
photo is decoded and looked for faces as always, and the two readers are a script that needs no time
of its own; with `real` the installed readers read. Times depend on the machine and on what else it
does.
"""

import argparse
import os
import sys
import tempfile
import time
from pathlib import Path

import cv2
import numpy as np

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE / "reading"))

from seen_glyphs import STAMP, Seeing  # noqa: E402

from stampreader.reading import Desk, read_many  # noqa: E402
from stampreader.spine import find_faces  # noqa: E402

IMAGES = sorted((HERE.parent / "test_images").glob("*.jpg"))[:24]
WIDTH_PX = 1000


class Script(Seeing):
    """A reader that needs no time of its own."""

    def read_glyphs(self, photo, faces):
        """The same stamp in every photo; remembers none of them."""
        self.shown.clear()
        return super().read_glyphs(photo, faces)


def scripted():
    """Everything as always but the readers."""
    return Desk((Script(STAMP, "one"), Script(STAMP, "two")), find_faces)


def make_photos(folder, count):
    """So many JPEGs, no two with the same bytes: a comment segment holds the number."""
    small = []
    for place in IMAGES:
        picture = cv2.imread(str(place))
        height = round(WIDTH_PX * picture.shape[0] / picture.shape[1])
        made, data = cv2.imencode(".jpg", cv2.resize(picture, (WIDTH_PX, height)))
        assert made
        small.append(data.tobytes())
    paths = []
    for number in range(count):
        data, said = small[number % len(small)], b"%09d" % number
        comment = b"\xff\xfe" + (len(said) + 2).to_bytes(2, "big") + said
        paths.append(folder / f"{number:06d}.jpg")
        paths[-1].write_bytes(data[:2] + comment + data[2:])
    return paths


def family(pid):
    """This process and all that descend from it."""
    found, parents = {pid}, {}
    for place in Path("/proc").glob("[0-9]*/stat"):
        try:
            rest = place.read_text("utf-8").rpartition(")")[2].split()
        except OSError:
            continue
        parents[int(place.parent.name)] = int(rest[1])
    while grown := {child for child, parent in parents.items() if parent in found} - found:
        found |= grown
    return found


def memory_bytes():
    """Memory of this process and of its workers, shared pages counted once, swapped ones too."""
    total = 0
    for pid in family(os.getpid()):
        try:
            rows = Path(f"/proc/{pid}/smaps_rollup").read_text("utf-8").splitlines()
        except OSError:
            continue
        total += sum(
            1024 * int(row.split()[1]) for row in rows if row.startswith(("Pss:", "SwapPss:"))
        )
    return total


def memory_slope(paths, jobs, desk):
    """Read all photos; gives (photos, bytes) as it goes, and the seconds it took."""
    points, start = [], time.monotonic()
    for number, attempt in enumerate(read_many(paths, jobs=jobs, make_desk=desk, crops=True), 1):
        assert attempt.failure is None, attempt.failure
        if number % 20 == 0:
            points.append((number, memory_bytes()))
    return np.array(points), time.monotonic() - start


def cpu_seconds():
    """Processor time that this process and those that live and descend from it have used."""
    total = 0
    for pid in family(os.getpid()):
        try:
            rest = Path(f"/proc/{pid}/stat").read_text("utf-8").rpartition(")")[2].split()
        except OSError:
            continue
        total += int(rest[11]) + int(rest[12])
    return total / os.sysconf("SC_CLK_TCK")


def seconds_of(paths, jobs, desk):
    """Seconds a photo on the clock and of the processor, the start of the workers left out."""
    attempts = read_many(paths, jobs=jobs, make_desk=desk)
    for _ in range(jobs):
        next(attempts)
    start, used, count = time.perf_counter(), cpu_seconds(), 0
    clock = processor = 0.0
    for _ in attempts:
        count += 1
        clock, processor = time.perf_counter() - start, cpu_seconds() - used
    return clock / count, processor / count


def efficiency(paths, desk, rounds=2):
    """Of several rounds in turn, so that both meet the same machine: time with one worker, over
    twice the time with two."""
    one, two = [], []
    for _ in range(rounds):
        one.append(seconds_of(paths, 1, desk))
        two.append(seconds_of(paths, 2, desk))
        print(
            f"  one worker {one[-1][0]:.3f} s a photo ({one[-1][1]:.3f} s of the processor), "
            f"two {two[-1][0]:.3f} s ({two[-1][1]:.3f} s)",
            flush=True,
        )
    return min(one)[0] / (2 * min(two)[0])


def main():
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--photos", type=int, default=2000)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--desk", choices=("script", "real"), default="script")
    parser.add_argument("--efficiency", type=int, metavar="PHOTOS")
    told = parser.parse_args()
    desk = scripted if told.desk == "script" else None
    with tempfile.TemporaryDirectory(prefix="many-") as name:
        if told.efficiency:
            paths = make_photos(Path(name), told.efficiency)
            part = efficiency(paths, desk)
            print(
                f"{told.efficiency} photos, {told.desk} readers: --jobs 2 is {part:.2f} efficient"
            )
            return
        paths = make_photos(Path(name), told.photos)
        points, took = memory_slope(paths, told.jobs, desk)
    late = points[len(points) // 4 :]
    slope = np.polyfit(late[:, 0], late[:, 1], 1)[0]
    quarters = [np.median(part[:, 1]) / 2**20 for part in np.array_split(points, 4)]
    print("median of each quarter: " + ", ".join(f"{mb:.1f} MB" for mb in quarters))
    print(
        f"{told.photos} photos, {told.jobs} workers, {told.desk} readers, {took:.0f} s: "
        f"{points[0, 1] / 2**20:.0f} MB after 20 photos, {points[-1, 1] / 2**20:.0f} MB at the end, "
        f"{slope:.0f} bytes a photo over the last three quarters"
    )


if __name__ == "__main__":
    main()

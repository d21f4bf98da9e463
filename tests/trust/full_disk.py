"""Runs an intake on a disk that fills up, each time at another place: nothing acknowledged is lost.

    unshare -m sh -c 'mount -t tmpfs -o size=8m tmpfs /mnt && python tests/trust/full_disk.py /mnt'

The folder given must lie on a small file system of its own; the photos lie elsewhere. Prints one
line for each try and ends with status 1 at the first fault.
"""

import os
import random
import re
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from jobs import Intake, must
from stage import Kill, play, warm_up

ROOMS_KB = (0, 40, 200, 400, 1400, 2200, 2500, 2800, 3200, 4500)


class OnSmallDisk(Intake):
    """An intake whose register lies on the small disk."""

    def __init__(self, folder, chance, disk):
        super().__init__(folder, chance)
        self.register = disk / "intake.sqlite"


def fill(disk, room_kb):
    """Fill the disk but for some room; gives the file to remove again."""
    filler = disk / "filler"
    with filler.open("wb") as file:
        left = os.statvfs(disk)
        file.write(b"\0" * (left.f_bavail * left.f_frsize - room_kb * 1024))
    return filler


def one_try(disk, folder, room_kb):
    """An intake until the disk is full, then with room again until it is complete."""
    job = OnSmallDisk(folder, random.Random(room_kb), disk)
    filler = fill(disk, room_kb)
    played = play(job.words(), Kill(), job.patient)
    line = re.sub(r"\x1b\[[?0-9;]*[A-Za-z]", "", played.shown).rstrip("\n").rpartition("\n")[2]
    must(played.status in (0, 1), f"{room_kb} kB: status {played.status}: {played.shown[-900:]}")
    if played.status == 1:
        must(
            "stampreader: " in line and "full" in line,
            f"{room_kb} kB: it said {played.shown[-600:]!r}",
        )
        must("Traceback" not in played.shown, played.shown[-900:])
    filler.unlink()
    job.after(played)
    entered = len(job.ids)
    again = play(job.words(), Kill(), job.patient)
    must(again.status == 0, f"{room_kb} kB: does not complete: {again.shown[-900:]}")
    job.after(again)
    job.complete()
    for file in disk.glob("intake.sqlite*"):
        file.unlink()
    print(f"{room_kb} kB of room: status {played.status}, {entered} of 60 entered before; {line}")
    return played.status


def main():
    """Try each amount of room; some must have filled the disk, at least one not."""
    disk = Path(sys.argv[1])
    warm_up()
    statuses = []
    for room_kb in ROOMS_KB:
        with tempfile.TemporaryDirectory(prefix="full-disk-") as folder:
            statuses.append(one_try(disk, Path(folder), room_kb))
    must({0, 1} == set(statuses), f"statuses {statuses}: the rooms tried show nothing")


if __name__ == "__main__":
    main()

"""Desks for worker processes in tests: readers that crash, hang or eat memory when told to.

The name of the photo tells the reader what to do, so that one run can mix good and bad photos.
"""

import os
import signal
import time
from pathlib import Path

from seen_glyphs import STAMP, Seeing

from stampreader.errors import ReaderError
from stampreader.figures import Caps
from stampreader.reading import Desk


def memory():
    """Resident memory of this process in pages, as Linux tells it; empty elsewhere."""
    place = Path("/proc/self/statm")
    return place.read_text("utf-8").split()[1] if place.exists() else ""


def nowhere(_photo):
    """A finder for readers that need none."""
    return ()


class Plug(Seeing):
    """Does what the photo's name says."""

    def read_glyphs(self, photo, faces):
        """Crash, hang, raise, eat memory, be slow, or see a stamp."""
        name = photo.path.name
        photo.path.with_suffix(".begun").write_text(memory(), "utf-8")
        if "crash" in name:
            os.kill(os.getpid(), signal.SIGSEGV)
        if "hang" in name:
            time.sleep(60)
        if "raise" in name:
            raise RuntimeError("a plug")
        if "eat" in name:
            bytearray(64 * 2**30)
        if "slow" in name:
            time.sleep(0.5)
        self.shown.clear()
        return super().read_glyphs(photo, faces)


def plugged():
    """Two readers, the first a plug."""
    return Desk((Plug(STAMP, "one"), Seeing(STAMP, "two")), nowhere, Caps())


def broken():
    """Readers that cannot be loaded."""
    raise ReaderError("the weights are missing")


def faulty():
    """Readers with a fault of their own."""
    return 1 / 0


def stillborn():
    """A process that ends before it is ready."""
    os._exit(7)

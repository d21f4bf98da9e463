"""Workers that stay, for photos that come one at a time and whose result is waited for.

As in a run over many photos, a decoder that crashes, hangs or eats memory takes the one photo it
was given; the next one is read by a fresh worker.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from queue import Queue
from threading import Lock
from time import monotonic

from stampreader.errors import ReaderError, StampError
from stampreader.photo import Limits
from stampreader.reading.desk import Desk, default_desk
from stampreader.reading.pool import STARTUP_SECONDS
from stampreader.reading.worker import Attempt, Failure, Order, Setup, Worker, wait_for


class StandingCrew:
    """A few workers that keep their readers loaded. May be used from several threads at once."""

    def __init__(
        self,
        *,
        readers: Sequence[str] | None = None,
        jobs: int = 1,
        threads: int = 1,
        limits: Limits = Limits(),  # noqa: B008 (frozen value)
        make_desk: Callable[[], Desk] | None = None,
    ) -> None:
        """Say what is read with; the workers start with `warm_up` or with the first photo.

        Args:
            readers: names of the readers to use; those installed by default.
            jobs: workers, so many photos are read at once.
            threads: threads OpenCV may use in each worker.
            limits: what one photo may cost; time and memory are kept here.
            make_desk: makes the readers inside a worker, instead of those installed.
        """
        make = make_desk or partial(default_desk, None if readers is None else tuple(readers))
        self._setup = Setup(make, limits, threads)
        self._limits = limits
        self._places: Queue[Worker | None] = Queue()
        self._living: set[Worker] = set()
        self._lock = Lock()
        self._closed = False
        for _ in range(jobs):
            self._places.put(None)

    def warm_up(self) -> None:
        """Start a worker now, so that the first photo does not wait for it.

        Raises:
            ReaderError: the readers cannot be loaded.
        """
        worker = self._places.get()
        try:
            worker = self._ready(worker)
        finally:
            self._places.put(worker)

    def read(self, path: Path | str) -> Attempt:
        """Read a photo, with a crop of every stamp; waits for a free worker."""
        return self.attempt(Order(str(path), crops=True))

    def glance(self, path: Path | str, longest_px: int) -> Attempt:
        """Look at a photo without reading its stamps: a smaller picture, and its labels."""
        return self.attempt(Order(str(path), view_px=longest_px))

    def close(self) -> None:
        """End all workers, also those at work; their photos fail."""
        with self._lock:
            self._closed = True
            living, self._living = self._living, set()
        for worker in living:
            worker.kill()

    def attempt(self, order: Order) -> Attempt:
        """Do with a photo what is ordered; waits for a free worker."""
        worker = self._places.get()
        try:
            worker = self._ready(worker)
            said = self._ask(worker, order)
            if isinstance(said, Attempt):
                return said
            self._bury(worker)
            worker = None
            return Attempt(order.path, failure=Failure.killed(order.path, said))
        except StampError as error:
            worker = None
            return Attempt(order.path, failure=Failure.of(error))
        finally:
            self._places.put(worker)

    def _ask(self, worker: Worker, order: Order) -> Attempt | str:
        """What a worker makes of a photo, or why it has to be given up."""
        try:
            worker.send(order)
            if not wait_for([worker], until=monotonic() + self._limits.max_seconds):
                return f"it took longer than {self._limits.max_seconds:g} s"
            said = worker.receive()
        except (OSError, ValueError):  # closed by `close` meanwhile
            return "reading has stopped"
        return (
            said if isinstance(said, Attempt) else "the picture decoder or a reader crashed on it"
        )

    def _ready(self, worker: Worker | None) -> Worker:
        """The worker if it lives, else a new one that has loaded its readers."""
        if worker is not None and not wait_for([worker], until=0.0):
            return worker
        if worker is not None:  # an idle worker has nothing to say: it is gone
            self._bury(worker)
        worker = Worker(self._setup)
        with self._lock:
            if self._closed:
                worker.kill()
                raise ReaderError("reading has stopped", remedy="Start it again.")
            self._living.add(worker)
        try:
            heard = wait_for([worker], until=monotonic() + STARTUP_SECONDS)
            if heard and worker.receive() is True:
                return worker
        except StampError:
            self._bury(worker)
            raise
        self._bury(worker)
        raise ReaderError(
            "the reading process does not start", remedy="Check free memory, then try again."
        )

    def _bury(self, worker: Worker) -> None:
        """End a worker for good."""
        with self._lock:
            known = worker in self._living
            self._living.discard(worker)
        if known:
            worker.kill()

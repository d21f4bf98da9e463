"""Many photos at once, each in a worker process that can be killed.

A decoder that crashes, hangs or eats memory takes the one photo it was given; the run goes on
with a fresh worker. Results come in the order of the photos, and no more photos are under way
than a small window holds, so a hundred thousand of them do not fill the memory.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Generator, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from time import monotonic

from stampreader.errors import ReaderError
from stampreader.photo import Limits
from stampreader.reading.desk import Desk, default_desk
from stampreader.reading.worker import Attempt, Failure, Order, Setup, Worker, wait_for

WINDOW = 4
"""Photos under way or waiting for their turn, per worker."""
STARTUP_SECONDS = 60.0
"""A worker that has loaded its readers by then is well."""

MakeDesk = Callable[[], Desk]


@dataclass(frozen=True, slots=True)
class _Job:
    number: int
    deadline: float


def read_many(
    paths: Sequence[Path | str],
    *,
    readers: Sequence[str] | None = None,
    jobs: int | None = None,
    limits: Limits = Limits(),  # noqa: B008 (frozen value)
    crops: bool = False,
    picture: str | None = None,
    make_desk: MakeDesk | None = None,
) -> Generator[Attempt, None, None]:
    """Read photos in worker processes and give the results in the order of the photos.

    Args:
        paths: photo files.
        readers: names of the readers to use; those installed by default.
        jobs: worker processes; one a core by default, never more than there are photos.
        limits: what one photo may cost; time and memory are kept here.
        crops: give a JPEG of every stamp found.
        picture: give the photo with what was read drawn on it, as `.jpg` or `.png`.
        make_desk: makes the readers inside a worker, instead of those installed.

    Yields:
        One attempt a photo: a reading or a failure, never an exception.

    Raises:
        ReaderError: the readers cannot be loaded, or workers do not start.
    """
    cores = os.process_cpu_count() if hasattr(os, "process_cpu_count") else os.cpu_count()
    count = max(1, min(jobs or cores or 1, len(paths)))
    make = make_desk or partial(default_desk, None if readers is None else tuple(readers))
    setup = Setup(make, limits, threads=1 if jobs else max(1, (cores or 1) // count))
    orders = [Order(str(path), crops, picture) for path in paths]
    if not orders:
        return
    crew = _Crew(setup, orders, count)
    try:
        yield from crew.run()
    finally:
        crew.dismiss()


class _Crew:
    """The workers, the photos they hold, and the results that wait for their turn."""

    def __init__(self, setup: Setup, orders: Sequence[Order], count: int) -> None:
        self._setup, self._orders, self._count = setup, orders, count
        self._jobs: dict[Worker, _Job | None] = {}
        self._done: dict[int, Attempt] = {}
        self._next = 0
        self._given = 0
        self._stillborn = 0

    def run(self) -> Iterator[Attempt]:
        """Results in order."""
        for _ in range(self._count):
            self._hire()
        while self._given < len(self._orders):
            while self._given in self._done:
                yield self._done.pop(self._given)
                self._given += 1
            if self._given < len(self._orders):
                self._hand_out()
                self._collect()

    def dismiss(self) -> None:
        """End all workers."""
        for worker in self._jobs:
            worker.kill()
        self._jobs.clear()

    def _hire(self) -> None:
        worker = Worker(self._setup)
        self._jobs[worker] = None
        worker.deadline = monotonic() + STARTUP_SECONDS

    def _hand_out(self) -> None:
        """A photo for every idle worker, as long as the window is open."""
        for worker, job in self._jobs.items():
            open_window = self._next < self._given + WINDOW * self._count
            if job is None and worker.ready and open_window and self._next < len(self._orders):
                worker.deadline = monotonic() + self._setup.limits.max_seconds
                self._jobs[worker] = _Job(self._next, worker.deadline)
                worker.send(self._orders[self._next])
                self._next += 1

    def _collect(self) -> None:
        """Wait for the first worker that has something to say, or whose time is up."""
        busy = [w for w, job in self._jobs.items() if job is not None or not w.ready]
        heard = wait_for(busy, until=min(w.deadline for w in busy))
        for worker in heard:
            said = worker.receive()
            if said is None:
                self._replace(worker, "the picture decoder or a reader crashed on it")
            elif isinstance(said, Attempt):
                self._finish(worker, said)
        # one that was heard is in time, however long the caller took to come back for more
        for worker in [w for w in busy if w not in heard and w.deadline <= monotonic()]:
            self._replace(worker, f"it took longer than {self._setup.limits.max_seconds:g} s")

    def _finish(self, worker: Worker, attempt: Attempt) -> None:
        job = self._jobs[worker]
        assert job is not None, "a worker answers only what it was given"
        self._done[job.number] = attempt
        self._jobs[worker] = None
        self._stillborn = 0

    def _replace(self, worker: Worker, reason: str) -> None:
        """Bury a worker, fail its photo, and hire another one."""
        worker.kill()
        job = self._jobs.pop(worker)
        if job is not None:
            order = self._orders[job.number]
            self._done[job.number] = Attempt(order.path, failure=Failure.killed(order.path, reason))
        else:
            self._stillborn += 1
        if self._stillborn > 2:
            raise ReaderError(
                "the reading process does not start", remedy="Check free memory, then try again."
            )
        self._hire()

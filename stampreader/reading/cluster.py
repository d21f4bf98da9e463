"""Many photos on many machines, through a Dask scheduler (extra `[cluster]`).

The photos lie where every machine finds them under the same path, so only names go out and
readings come back. On each machine a photo is read by a child process that can be killed, as in
`pool`: a bad photo fails alone. What a lost machine was reading is read again on another one.
Results come in the order of the photos, and only a window of them is under way.
"""

from __future__ import annotations

import asyncio
import multiprocessing
import os
import pickle
from collections import deque
from collections.abc import Generator, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import replace
from functools import partial
from pathlib import Path
from threading import Lock
from time import monotonic
from typing import TYPE_CHECKING, Any

from stampreader import __version__
from stampreader.errors import ReaderError, StampError
from stampreader.photo import Limits, printable
from stampreader.reading.desk import default_desk
from stampreader.reading.pool import WINDOW, MakeDesk
from stampreader.reading.standing import StandingCrew
from stampreader.reading.worker import Attempt, Failure, Order, Setup

if TYPE_CHECKING:
    from distributed import Client, Future

CONNECT_SECONDS = 10.0
WORKERS_SECONDS = 60.0
"""So long is waited for machines, at the start and when all of them were lost."""
ASKED_EVERY = 50
"""After so many photos the machines are counted again: some may have come or gone."""
RETRIES = 2
"""A reading process that does not start on one machine may do so on another."""


def read_on_cluster(
    paths: Sequence[Path | str],
    *,
    scheduler: str,
    readers: Sequence[str] | None = None,
    limits: Limits = Limits(),  # noqa: B008 (frozen value)
    crops: bool = False,
    picture: str | None = None,
    make_desk: MakeDesk | None = None,
    wait_s: float = WORKERS_SECONDS,
) -> Generator[Attempt, None, None]:
    """Read photos on the machines of a Dask scheduler; results in the order of the photos.

    Args:
        paths: photo files, seen under the same path by every machine.
        scheduler: address, such as `tcp://10.0.0.1:8786`.
        readers: names of the readers to use; those installed by default.
        limits: what one photo may cost; kept on the machine that reads it.
        crops: give a JPEG of every stamp found.
        picture: give the photo with what was read drawn on it, as `.jpg` or `.png`.
        make_desk: makes the readers inside a worker, instead of those installed.
        wait_s: how long to wait for machines.

    Yields:
        One attempt a photo, the same as `read_many` gives.

    Raises:
        ReaderError: no scheduler or no machine there, or a machine cannot read at all.
    """
    make = make_desk or partial(default_desk, None if readers is None else tuple(readers))
    setup = Setup(make, limits, threads=1)
    under_way: deque[tuple[str, Future]] = deque()
    with _connected(scheduler, wait_s) as client:
        for number, path in enumerate(map(str, paths)):
            if number % ASKED_EVERY == 0:
                window = _window(client)
            if len(under_way) >= window:
                yield _result(client, *under_way.popleft(), wait_s)
            order = Order(os.path.abspath(path), crops, picture)
            future = client.submit(
                _read_here, order, setup, __version__, pure=False, retries=RETRIES
            )
            under_way.append((path, future))
        while under_way:
            yield _result(client, *under_way.popleft(), wait_s)


@contextmanager
def _connected(scheduler: str, wait_s: float) -> Iterator[Client]:
    """A client of the scheduler; when it is left, what is still under way is called off."""
    from distributed import Client

    try:
        asyncio.run(_knock(scheduler))
        client = Client(scheduler, timeout=CONNECT_SECONDS, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as error:
        raise ReaderError(
            f"there is no scheduler at {scheduler}",
            remedy="Start one with `dask scheduler`, or check the address.",
        ) from error
    try:
        try:
            client.wait_for_workers(1, timeout=wait_s)
        except TimeoutError as error:
            raise _no_machines(scheduler) from error
        yield client
    finally:
        with suppress(OSError, TimeoutError):
            client.close()


async def _knock(scheduler: str) -> None:
    """See whether somebody answers; a client that never connected could block others later."""
    from distributed import Security
    from distributed.comm import connect

    ours = Security().get_connection_args("client")
    comm = await connect(scheduler, timeout=CONNECT_SECONDS, **ours)
    await comm.close()


def _no_machines(scheduler: str) -> ReaderError:
    return ReaderError(
        f"the scheduler at {scheduler} has no machine to read with",
        remedy="Start some with `dask worker`, then run the command again.",
    )


def _window(client: Client) -> int:
    """Photos that may be under way: a few for each thread of the machines there are now."""
    return WINDOW * max(1, int(sum(client.nthreads().values())))


def _result(client: Client, path: str, future: Future, wait_s: float) -> Attempt:
    """What came of one photo, under the name it was given by."""
    from distributed import KilledWorker

    try:
        attempt = _waited_for(client, future, wait_s)
    except KilledWorker:
        return Attempt(path, failure=Failure.killed(path, "every machine that read it was lost"))
    except StampError:
        raise
    except Exception as error:  # scheduler gone, stampreader missing on a machine
        raise ReaderError(
            f"the machines cannot read: {type(error).__name__}: {str(error)[:200]}",
            remedy="Install the same stampreader on each, see that the scheduler runs, try again.",
        ) from error
    return _as_given(attempt, path)


def _waited_for(client: Client, future: Future, wait_s: float) -> Attempt:
    """Wait as long as there are machines, or as new ones may come."""
    alone_since: float | None = None
    while True:
        try:
            attempt: Attempt = future.result(timeout=min(wait_s, 5.0))
            return attempt
        except TimeoutError:
            if client.nthreads():
                alone_since = None
            elif alone_since is None:
                alone_since = monotonic()
            elif monotonic() - alone_since > wait_s:
                raise _no_machines(client.scheduler.address) from None


def _as_given(attempt: Attempt, path: str) -> Attempt:
    """The attempt under the path as the user gave it, in place of the absolute one."""
    absolute = printable(attempt.path)
    reading = attempt.reading and replace(attempt.reading, photo=path)
    failure = attempt.failure and replace(
        attempt.failure, message=attempt.failure.message.replace(absolute, printable(path))
    )
    return replace(attempt, path=path, reading=reading, failure=failure)


# -- what runs on the machines ------------------------------------------------------------------

_crews: dict[bytes, StandingCrew] = {}
_lock = Lock()


def _read_here(order: Order, setup: Setup, version: str) -> Attempt:
    """Read one photo on this machine, in a child process that can be killed."""
    if version != __version__:
        raise ReaderError(
            f"a machine has stampreader {__version__}, and version {version} was asked for",
            remedy="Install the same stampreader on each.",
        )
    return _crew_of(setup).attempt(order)


def _crew_of(setup: Setup) -> StandingCrew:
    """The children of this process for a setup, one for each thread; made when first needed."""
    from distributed import get_worker

    key = pickle.dumps(setup)
    with _lock:
        if key not in _crews:
            # A Dask worker is itself a child; without this it may have none of its own.
            multiprocessing.current_process().daemon = False
            worker: Any = get_worker()
            crew = StandingCrew(
                make_desk=setup.make_desk, jobs=worker.state.nthreads, limits=setup.limits
            )
            crew.warm_up()
            _crews[key] = crew
        return _crews[key]

"""One worker process: it loads the readers once, then reads the photos it is given."""

from __future__ import annotations

import contextlib
import multiprocessing
import multiprocessing.connection
import os
import signal
import sys
import tempfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from multiprocessing.connection import Connection
from time import monotonic, perf_counter

import cv2

from stampreader.errors import PhotoError, ReaderError, StampError
from stampreader.photo import Limits, Photo, load_photo, printable, read_labels
from stampreader.reading.desk import Desk
from stampreader.reading.evidence import evidence_crop, whole_photo
from stampreader.reading.sketch import sketch
from stampreader.reading.walk import read_with
from stampreader.words import SLOTS, Reading, Stamp

DAMAGED = "The file is damaged in places; what was read may come from a spoilt part."
MOST_HEARD = 4096


@dataclass(frozen=True, slots=True)
class Failure:
    """Why a photo could not be read: a stable word and one line for the person."""

    kind: str
    message: str

    @classmethod
    def of(cls, error: StampError) -> Failure:
        """From an error."""
        return cls(error.kind, error.line())

    @classmethod
    def killed(cls, path: str, reason: str) -> Failure:
        """Of a photo whose worker had to be given up."""
        return cls.of(PhotoError(f"cannot read {printable(path)}: {reason}"))


@dataclass(frozen=True, slots=True)
class Attempt:
    """What came of one photo.

    Attributes:
        path: as given.
        reading: what was read, or `None`.
        failure: why nothing was read, or `None`.
        crops: JPEG of each stamp, in the order of `reading.stamps`, when asked for; of the whole
            photo where nothing was read.
        picture: the photo with what was read drawn on it, when asked for.
        view: the photo alone as a JPEG, when only that was asked for; nothing but its labels was
            read then.
    """

    path: str
    reading: Reading | None = None
    failure: Failure | None = None
    crops: tuple[bytes, ...] = ()
    picture: bytes | None = None
    view: bytes | None = None


@dataclass(frozen=True, slots=True)
class Order:
    """A photo to read, and what else is wanted of it; with `view_px` only looked at, not read."""

    path: str
    crops: bool = False
    picture: str | None = None
    view_px: int | None = None


@dataclass(frozen=True, slots=True)
class Setup:
    """What a worker is started with."""

    make_desk: Callable[[], Desk]
    limits: Limits
    threads: int


class Worker:
    """A worker process as its parent sees it.

    Attributes:
        ready: it has loaded its readers.
        deadline: when it is given up, on the monotonic clock.
    """

    def __init__(self, setup: Setup) -> None:
        """Start the process."""
        context = _context()
        self._pipe, theirs = context.Pipe()
        self._process = context.Process(target=_work, args=(theirs, setup), daemon=True)
        self._process.start()
        theirs.close()
        self.ready = False
        self.deadline = 0.0

    @property
    def pipe(self) -> Connection:
        """The parent's end of the pipe."""
        return self._pipe

    def send(self, order: Order) -> None:
        """Hand over a photo; a worker that died in the meantime is found out when waited for."""
        with contextlib.suppress(OSError):
            self._pipe.send(order)

    def receive(self) -> Attempt | bool | None:
        """An attempt, `True` for "ready", or `None` if the process is gone.

        Raises:
            ReaderError: the worker could not load its readers.
        """
        try:
            said = self._pipe.recv()
        except (EOFError, OSError):
            return None
        if isinstance(said, StampError):
            raise said
        self.ready = True
        return said if isinstance(said, Attempt) else True

    def kill(self) -> None:
        """End the process at once."""
        self._pipe.close()
        self._process.kill()
        self._process.join()


def wait_for(workers: Iterable[Worker], until: float) -> list[Worker]:
    """The workers that have something to say (or are gone), at the latest at a given time."""
    by_pipe = {worker.pipe: worker for worker in workers}
    heard = multiprocessing.connection.wait(list(by_pipe), max(0.0, until - monotonic()))
    return [by_pipe[pipe] for pipe in heard]  # type: ignore[index]


def attempt(order: Order, desk: Desk, limits: Limits, murmurs: Callable[[], str] = str) -> Attempt:
    """Read one photo; whatever goes wrong becomes a failure of this photo.

    Args:
        order: the photo, and what is wanted of it.
        desk: what it is read with.
        limits: what it may cost.
        murmurs: gives what the decoders wrote to standard error since it was last asked.
    """
    start = perf_counter()
    try:
        murmurs()
        photo = load_photo(order.path, limits)
        if "Corrupt JPEG" in murmurs():
            photo.notes = (*photo.notes, DAMAGED)
        if order.view_px is not None:
            return _glance(photo, order.path, order.view_px)
        reading = read_with(desk, photo)
        reading = replace(reading, photo=order.path, seconds=perf_counter() - start)
        return Attempt(
            order.path,
            reading,
            crops=_crops(photo, reading) if order.crops else (),
            picture=sketch(photo, reading, order.picture) if order.picture else None,
        )
    except StampError as error:
        return Attempt(order.path, failure=Failure.of(error))
    except MemoryError:
        reason = "it needs more memory than is allowed"
    except cv2.error as error:
        full = error.code == cv2.Error.STS_NO_MEM
        reason = (
            "it needs more memory than is allowed" if full else f"OpenCV refused it ({error.err})"
        )
    except Exception as error:  # one photo must never stop the run
        reason = f"unexpected {type(error).__name__}: {error}"
    return Attempt(order.path, failure=Failure.killed(order.path, reason))


def _glance(photo: Photo, path: str, longest_px: int) -> Attempt:
    """A photo as a smaller picture, with the labels on it; no stamp is looked for."""
    labels = tuple(label.text for label in read_labels(photo))
    seen = Reading(path, photo.sha256, photo.size, labels=labels, taken_on=photo.taken_on)
    return Attempt(path, seen, view=whole_photo(photo, longest_px))


def _crops(photo: Photo, reading: Reading) -> tuple[bytes, ...]:
    """An evidence picture of each stamp; of the whole photo where nothing was read."""
    return tuple(
        evidence_crop(photo, stamp if _says_something(stamp) else Stamp())
        for stamp in reading.stamps or (Stamp(),)
    )


def _says_something(stamp: Stamp) -> bool:
    return bool(stamp.marks) or any(stamp.figure(slot).kN is not None for slot in SLOTS)


def _context() -> multiprocessing.context.SpawnContext | multiprocessing.context.ForkServerContext:
    """Workers are copies of a clean server process where the system has one, else start anew.

    The server has loaded OpenCV but runs nothing, so a copy of it is ready in milliseconds.
    """
    known = multiprocessing.get_all_start_methods()
    if "forkserver" in known:
        server = multiprocessing.get_context("forkserver")
        server.set_forkserver_preload([__name__])
        return server
    return multiprocessing.get_context("spawn")


def _work(pipe: Connection, setup: Setup) -> None:
    """The life of a worker: readers first, then photos until the pipe closes."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides when to stop
    murmurs = _overhear_decoders()
    _limit_memory(setup.limits.max_memory_bytes)
    cv2.setNumThreads(setup.threads)
    with contextlib.suppress(EOFError, OSError):
        try:
            desk = setup.make_desk()
        except StampError as error:
            pipe.send(error)
            return
        except Exception as error:  # the parent has to hear of it
            pipe.send(ReaderError(f"the readers cannot be loaded: {type(error).__name__}: {error}"))
            return
        pipe.send(True)
        while True:
            pipe.send(attempt(pipe.recv(), desk, setup.limits, murmurs))


def _limit_memory(most_bytes: int) -> None:
    """Limit the address space where the system can."""
    if sys.platform == "win32":
        return
    import resource

    with contextlib.suppress(ValueError, OSError):
        _, hard = resource.getrlimit(resource.RLIMIT_AS)
        most = most_bytes if hard == resource.RLIM_INFINITY else min(most_bytes, hard)
        resource.setrlimit(resource.RLIMIT_AS, (most, hard))


def _overhear_decoders() -> Callable[[], str]:
    """Take what decoders in C write to standard error by themselves; it belongs to the parent.

    Returns:
        A function that gives what was written since it was last called.
    """
    heard = tempfile.TemporaryFile()  # noqa: SIM115 (open as long as the process lives)
    os.dup2(heard.fileno(), 2)

    def murmurs() -> str:
        heard.seek(0)
        text = heard.read(MOST_HEARD).decode("utf-8", "replace")
        heard.seek(0)
        heard.truncate()
        return text

    return murmurs

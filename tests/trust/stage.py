"""Runs one real command at a terminal in a child process, and kills it.

The child is a copy of this process with the command line already loaded, so a kill costs a tenth
of a second and not the start of Python. Photos are "read" from a script, everything else is real:
the prompt, the transactions, the files.

A fault point is any statement SQLite begins that may write, any flush and any renaming of a file:
the child counts them and kills itself at a given one, for instance between evidence and decision.
"""

import _strptime  # what is loaded now need not be loaded in every child
import contextlib
import hashlib
import io
import mmap
import os
import pty
import re
import select
import signal
import sqlite3
import sys
import tempfile
import termios
import time
import traceback
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from types import SimpleNamespace

import rich.progress

import stampreader.reading
from stampreader.cli import run
from stampreader.reading import Attempt
from stampreader.words import Figure, Mark, Reading, Stamp, State

PROMPT = "\n> "
LONGEST_S = 60.0
assert rich.progress and _strptime


def warm_up():
    """Run a command here once: what it loads need not be loaded in every child."""
    with tempfile.TemporaryDirectory() as folder, contextlib.redirect_stderr(io.StringIO()):
        run(["check", "--register", f"{folder}/none.sqlite"])


@dataclass(frozen=True)
class Kill:
    """When a command is killed: after some seconds, at a fault point, or never.

    Attributes:
        after_s: so long after its start.
        at_point: at the fault point with this number, from 1.
        of: only points of this kind are counted, such as `INSERT INTO events`.
    """

    after_s: float | None = None
    at_point: int | None = None
    of: str = ""


@dataclass(frozen=True)
class Played:
    """What was seen of a command.

    Attributes:
        shown: all that stood on the screen.
        pending: the answer that was typed last, or "".
        since: what the screen showed after it.
        killed: it was killed before it ended.
        status: its exit status, if it ended.
        seconds: how long it ran.
        points: fault points it passed.
        place: the one it was killed at, such as `INSERT INTO events`, or "" if none.
    """

    shown: str
    pending: str = ""
    since: str = ""
    killed: bool = True
    status: int | None = None
    seconds: float = 0.0
    points: int = 0
    place: str = ""


def play(words, kill, answer, *, prepare=None):
    """Run a command at a terminal until it ends or is killed.

    Args:
        words: the command line.
        kill: when it is killed.
        answer: gives the next line to type, from what was shown since the one before; the command
            waits meanwhile.
        prepare: done in the child before the command begins.
    """
    sys.stdout.flush()
    sys.stderr.flush()
    note = mmap.mmap(-1, 4096)  # shared with the child, readable after its death
    start = time.monotonic()
    child, screen = pty.fork()
    if child == 0:
        _act(words, FaultPoints(kill, note), prepare)
    ends = start + (LONGEST_S if kill.after_s is None else kill.after_s)
    shown, pending, since, in_time = _converse(screen, answer, ends)
    if not in_time:
        os.kill(child, signal.SIGKILL)
    while heard := _heard(screen):
        shown += heard
    os.close(screen)
    code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    if kill.after_s is None and not in_time:
        raise AssertionError(f"{words[0]} hangs; it showed {shown[-500:]!r}")
    killed = code == -signal.SIGKILL
    points, _, place = note[:].rstrip(b"\0").decode("utf-8", "replace").partition(" ")
    return Played(
        shown, pending, shown[since:], killed, None if killed else code,
        time.monotonic() - start, int(points or 0), place,
    )  # fmt: skip


def _converse(screen, answer, ends):
    """Read the screen and type the answers; until nobody is there any more, or time is up."""
    shown, since, pending = "", 0, ""
    while (left := ends - time.monotonic()) > 0:
        if not select.select([screen], [], [], left)[0]:
            continue
        heard = _heard(screen)
        if not heard:
            return shown, pending, since, True
        shown += heard
        if shown.endswith(PROMPT):
            pending = answer(shown[since:])
            since = len(shown)
            with contextlib.suppress(OSError):  # it may be gone by now
                os.write(screen, f"{pending}\n".encode())
    return shown, pending, since, False


def _heard(screen):
    try:
        return os.read(screen, 65536).decode("utf-8", "replace").replace("\r\n", "\n")
    except OSError:  # the other end is closed
        return ""


def _act(words, points, prepare):
    """In the child: set the stage, run the command, leave without cleaning up behind it."""
    status = 70
    try:
        told = termios.tcgetattr(0)
        told[3] &= ~termios.ECHO
        termios.tcsetattr(0, termios.TCSANOW, told)
        sys.stdin, sys.stdout, sys.stderr = (
            open(fd, mode, encoding="utf-8", buffering=1, closefd=False)  # noqa: SIM115
            for fd, mode in ((0, "r"), (1, "w"), (2, "w"))
        )
        if prepare is not None:
            prepare()
        points.set_up()
        set_stage(scripted)
        status = run([str(word) for word in words])
    except BaseException:
        traceback.print_exc()
    finally:
        points.tell()
        with contextlib.suppress(OSError):
            sys.stdout.flush()
            sys.stderr.flush()
        os._exit(status)


def set_stage(read):
    """Put a script in the place of the readers, in this process."""
    stampreader.reading.read_many = read
    stampreader.reading.default_readers = lambda names=None: (
        SimpleNamespace(name="script", version="1"),
    )


class FaultPoints:
    """Counts statements that may write, flushes and renamings; at one the process is killed."""

    def __init__(self, kill, note):
        self.count, self._kill, self._note = 0, kill, note

    def set_up(self):
        """Take the places of what is counted."""
        connect, fsync, replace = sqlite3.connect, os.fsync, os.replace

        def connected(*args, **kwargs):
            connection = connect(*args, **kwargs)
            connection.set_trace_callback(self._passed)
            return connection

        def counted(action, name):
            def acted(*args, **kwargs):
                self._passed(f"before {name}")
                done = action(*args, **kwargs)
                self._passed(f"after {name}")
                return done

            return acted

        sqlite3.connect = connected
        os.fsync, os.replace = counted(fsync, "fsync"), counted(replace, "replace")

    def tell(self, place=""):
        """Leave the count, and the place, for the parent."""
        text = f"{self.count} {place}".encode()[:4096]
        self._note[: len(text)] = text

    def _passed(self, statement):
        place = short(statement)
        if place.upper() == "SELECT" or self._kill.of not in ("", place):
            return
        self.count += 1
        if self.count == self._kill.at_point:
            self.tell(place)
            os.kill(os.getpid(), signal.SIGKILL)


def short(statement):
    """A statement's kind and table: `INSERT INTO events`, `SELECT`, `COMMIT`."""
    words = " ".join(statement.split())
    known = re.match(
        r"(?i)(INSERT (OR \w+ )?INTO \W?\w+|UPDATE \W?\w+|DELETE FROM \W?\w+"
        r"|(before|after) \w+|\w+)",
        words,
    )
    return known[0] if known else words[:40]


def scripted(paths, *, crops=False, **_):
    """Stands in for the readers: a photo's name says what is stamped, `27-003.jpg`."""
    for path in paths:
        data = Path(path).read_bytes()
        sure = [Figure(Decimal(n), State.SURE, 0.99) for n in (Path(path).name[:2], 8, 7)]
        stamp = Stamp(*sure, marks=(Mark("CE 9123"),))
        reading = Reading(
            str(path), hashlib.sha256(data).hexdigest(), (64, 48), (stamp,), readers=("script 1",)
        )
        yield Attempt(str(path), reading, crops=(b"\xff\xd8" + data,) if crops else ())

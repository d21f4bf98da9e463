"""Runs one real command at a terminal in a child process, and kills it.

The child is a copy of this process with the command line already loaded, so a kill costs a tenth
of a second and not the start of Python. Photos are "read" from a script, everything else is real:
the prompt, the transactions, the files.

A fault point is any statement SQLite begins, any flush and any renaming of a file: the child
counts them and kills itself at a given one, for instance between evidence and decision.
"""

import hashlib
import os
import pty
import select
import signal
import sqlite3
import sys
import termios
import time
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from types import SimpleNamespace

import stampreader.reading
from stampreader.cli import run
from stampreader.reading import Attempt
from stampreader.words import Figure, Mark, Reading, Stamp, State

PROMPT = "\n> "
LONGEST_S = 60.0


@dataclass(frozen=True)
class Kill:
    """When a command is killed: after some seconds, at a fault point, or never."""

    after_s: float | None = None
    at_point: int | None = None


@dataclass(frozen=True)
class Played:
    """What was seen of a command.

    Attributes:
        shown: all that stood on the screen.
        pending: the answer that was typed last and not acknowledged, or "".
        killed: it was killed before it ended.
        status: its exit status, if it ended.
        seconds: how long it ran.
    """

    shown: str
    pending: str
    killed: bool
    status: int | None
    seconds: float


def play(words, kill, answer, points=None):
    """Run a command at a terminal until it ends or is killed.

    Args:
        words: the command line.
        kill: when it is killed.
        answer: gives the next line to type, from what was shown since the one before.
        points: a file the child writes its number of fault points into when it ends.
    """
    sys.stdout.flush()
    sys.stderr.flush()
    start = time.monotonic()
    child, screen = pty.fork()
    if child == 0:
        _act(words, kill.at_point, points)
    shown, since, pending = "", 0, ""
    ends = start + (LONGEST_S if kill.after_s is None else kill.after_s)
    while (left := ends - time.monotonic()) > 0:
        if not select.select([screen], [], [], left)[0]:
            continue
        heard = _heard(screen)
        if not heard:
            break
        shown += heard
        if shown.endswith(PROMPT):
            pending = answer(shown[since:])
            since = len(shown)
            os.write(screen, f"{pending}\n".encode())
    else:
        os.kill(child, signal.SIGKILL)
    while heard := _heard(screen):
        shown += heard
    os.close(screen)
    code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    seconds = time.monotonic() - start
    if kill.after_s is None and seconds > LONGEST_S:
        raise AssertionError(f"{words[0]} hangs; it showed {shown[-500:]!r}")
    killed = code == -signal.SIGKILL
    return Played(shown, pending, killed, None if killed else code, seconds)


def _heard(screen):
    try:
        return os.read(screen, 65536).decode("utf-8", "replace").replace("\r\n", "\n")
    except OSError:  # the other end is closed
        return ""


def _act(words, at_point, points):
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
        counter = FaultPoints(at_point)
        counter.set_up()
        stampreader.reading.read_many = scripted
        stampreader.reading.default_readers = lambda names=None: (
            SimpleNamespace(name="script", version="1"),
        )
        status = run([str(word) for word in words])
        if points is not None:
            Path(points).write_text(str(counter.count), "utf-8")
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(status)


class FaultPoints:
    """Counts statements, flushes and renamings; at one of them the process is killed."""

    def __init__(self, at_point):
        self.count, self._at = 0, at_point

    def set_up(self):
        """Take the places of what is counted."""
        connect, fsync, replace = sqlite3.connect, os.fsync, os.replace

        def connected(*args, **kwargs):
            connection = connect(*args, **kwargs)
            connection.set_trace_callback(self._passed)
            return connection

        def counted(action):
            def acted(*args, **kwargs):
                self._passed()
                done = action(*args, **kwargs)
                self._passed()
                return done

            return acted

        sqlite3.connect, os.fsync, os.replace = connected, counted(fsync), counted(replace)

    def _passed(self, _statement=""):
        self.count += 1
        if self.count == self._at:
            os.kill(os.getpid(), signal.SIGKILL)


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

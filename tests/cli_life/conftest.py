"""The command line in this process or in one of its own, on a register in a new folder."""

import hashlib
import json
import os
import subprocess
import sys
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from stampreader.cli import run
from stampreader.reading import Attempt, Failure
from stampreader.register import open_register
from stampreader.words import Figure, Mark, Reading, Stamp, State

TODAY = date.today()


def ago(days):
    """The day so many days ago, as typed."""
    return (TODAY - timedelta(days=days)).isoformat()


class Desk:
    """A register and the command line."""

    def __init__(self, folder, capsys):
        self.folder = folder
        self.register = folder / "register.sqlite"
        self.capsys = capsys

    def run(self, *words, expect=0):
        """Run a command here; gives what it printed, and what it said beside."""
        self.capsys.readouterr()
        status = run([*map(str, words), "--register", str(self.register)])
        out, err = self.capsys.readouterr()
        assert expect == status, (out, err)
        return out, err

    def json(self, *words, expect=0):
        """Run a command with `--json`; gives its objects."""
        return [
            json.loads(line) for line in self.run(*words, "--json", expect=expect)[0].splitlines()
        ]

    def refused(self, *words, expect=1):
        """Run a command that is refused; gives its one line."""
        out, err = self.run(*words, expect=expect)
        assert "" == out and 1 == err.count("\n"), (out, err)
        return err

    def add(self, id, figures="27/8/7", marks="CE 9123", in_service=None, to="", **fields):
        """Enter a connector, and put it in service so many days ago if told."""
        sets = [word for name, value in fields.items() for word in ("--set", f"{name}={value}")]
        self.run("add", "--id", id, "--figures", figures, "--marks", marks, "--who", "Ada", *sets)
        if in_service is not None:
            into = ["--to", to] if to else []
            self.run("service", id, "--on", ago(in_service), "--who", "Ada", *into)

    def states(self):
        """State and place of every connector by its id."""
        return {row["id"]: (row["state"], row["place"]) for row in self.json("list")}

    def process(self, *words, **more):
        """The same command in a process of its own."""
        return subprocess.Popen(
            [sys.executable, "-m", "stampreader", *map(str, words), "--register", str(self.register)],
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
            env=environment(), **more,
        )  # fmt: skip

    def open(self):
        """The register itself."""
        return open_register(self.register)


def environment():
    """The environment of a person called ada."""
    return {**os.environ, "USER": "ada", "LOGNAME": "ada"}


@pytest.fixture
def desk(tmp_path, capsys, monkeypatch):
    """A desk with nothing in its register, used by ada."""
    monkeypatch.setenv("USER", "ada")
    monkeypatch.setenv("LOGNAME", "ada")
    return Desk(tmp_path, capsys)


@pytest.fixture
def kit(desk):
    """Five connectors: a locking pear, a locking D, a wire gate, one without marks, one steel."""
    pear = {
        "shape": "pear",
        "gate": "screw gate",
        "maker": "Felsnase",
        "model": "Pear",
        "batch": "24A",
    }
    desk.add("C-1", marks="CE 9123, EN 12275:2013/H", in_service=100, to="Kit 1", **pear)
    desk.add(
        "C-2", "24/8/7", in_service=100, to="Kit 1", shape="D", gate="twist lock", maker="Felsnase"
    )
    desk.add("C-3", "22/7/6", in_service=100, to="Kit 1", shape="D", gate="wire gate", batch="24B")
    desk.add("C-4", "23/-/-", "", in_service=100, to="Kit 2", shape="oval", gate="screw gate")
    desk.add("C-5", "40/11/11", "NFPA 2500 G", shape="D", gate="auto lock", maker="Steilhang")
    return desk


@pytest.fixture
def photos(tmp_path, monkeypatch):
    """Takes photos on which a given stamp is read, or which cannot be read."""
    told = {}

    def read_many(paths, *, crops=False, **_):
        for path in paths:
            stamp = told[Path(path).name]
            if isinstance(stamp, str):
                yield Attempt(str(path), failure=Failure("photo", stamp))
                continue
            data = Path(path).read_bytes()
            reading = Reading(
                str(path), hashlib.sha256(data).hexdigest(), (640, 480),
                () if stamp is None else (stamp,), readers=("script 1",),
            )  # fmt: skip
            yield Attempt(str(path), reading, crops=(data,) if crops else ())

    monkeypatch.setattr("stampreader.reading.read_many", read_many)

    def taken(name, figures=None, marks=("CE 9123",), failure=None, doubts=()):
        path = tmp_path / name
        path.write_bytes(b"\xff\xd8\xff\xe0" + name.encode())
        values = [None if f is None else Decimal(f) for f in figures or ()]
        state = State.ASK if doubts else State.SURE
        slots = [Figure(v, state, 0.99, doubts=doubts) if v else Figure() for v in values]
        told[name] = failure or (Stamp(*slots, marks=tuple(map(Mark, marks))) if figures else None)
        return path

    return taken

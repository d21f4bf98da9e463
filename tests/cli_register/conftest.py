"""A workbench: photos with scripted readings, the real command line, the real prompt."""

import json
import os
import subprocess
import sys
from pathlib import Path

import cv2
import numpy as np
import pexpect
import pytest

from stampreader.register import open_register

RUNNER = Path(__file__).with_name("runner.py")
SURE = {"closed": [27, "sure"], "cross": [8, "sure"], "open": [7, "sure"], "marks": ["CE 9123"]}
PROMPT = "\n> "


class Workbench:
    """Photos in a folder, what is read on them, and a register beside."""

    def __init__(self, folder):
        self.folder = folder
        self.photos = folder / "photos"
        self.photos.mkdir()
        self.register = folder / "register.sqlite"
        self.script = {}

    def photo(self, name, *stamps, **more):
        """Take a photo; each is a different small picture."""
        pixels = np.full((60, 160, 3), 80, np.uint8)
        cv2.putText(pixels, name, (4, 40), cv2.FONT_HERSHEY_SIMPLEX, 0.7, (250, 250, 250), 2)
        path = self.photos / name
        cv2.imwrite(str(path), pixels)
        self.script[name] = {"stamps": list(stamps), **more}
        return path

    def delivery(self, count, first=1, **told):
        """Photos of equal connectors, all read as sure unless told otherwise."""
        return [self.photo(f"{n:03d}.jpg", {**SURE, **told}) for n in range(first, first + count)]

    def command(self, *words):
        """The command line; with scripted readings where photos are read."""
        if words[0] not in ("intake", "verify"):
            return [
                sys.executable, "-m", "stampreader", *map(str, words),
                "--register", str(self.register),
            ]  # fmt: skip
        script = self.folder / "script.json"
        script.write_text(json.dumps(self.script), "utf-8")
        return [
            sys.executable,
            str(RUNNER),
            str(script),
            *map(str, words),
            "--register",
            str(self.register),
        ]

    def run(self, *words, expect=0):
        """Run a command without a terminal."""
        done = subprocess.run(
            self.command(*words),
            capture_output=True,
            text=True,
            timeout=120,
            stdin=subprocess.DEVNULL,
            env=self.environment(),
        )
        assert expect == done.returncode, done.stderr
        return done

    def json(self, *words, expect=0):
        """Run a command with `--json`; gives its objects."""
        return [
            json.loads(line)
            for line in self.run(*words, "--json", expect=expect).stdout.splitlines()
        ]

    def terminal(self, *words):
        """Run a command at a terminal."""
        first, *rest = self.command(*words)
        return pexpect.spawn(
            first, rest, encoding="utf-8", timeout=60, dimensions=(60, 160), echo=False,
            env=self.environment(),
        )  # fmt: skip

    def answer(self, child, *lines):
        """Type answers at the prompt, then wait for the end; gives all that was shown."""
        shown = ""
        for line in lines:
            child.expect_exact(PROMPT)
            shown += child.before
            child.sendline(line)
        child.expect(pexpect.EOF)
        shown += child.before
        child.close()
        return shown

    def environment(self):
        """The environment of a person without a screen."""
        kept = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY")}
        return {
            **kept,
            "RUNNER_LOG": str(self.folder / "read.log"),
            "USER": "ada",
            "LOGNAME": "ada",
        }

    def read_photos(self):
        """Names of the photos the readers really looked at, in order."""
        log = self.folder / "read.log"
        return log.read_text("utf-8").split() if log.exists() else []

    def open(self):
        """The register, opened."""
        return open_register(self.register)


@pytest.fixture
def bench(tmp_path):
    """A workbench with nothing on it."""
    return Workbench(tmp_path)

"""Commands of a connector's life start without what they do not need."""

import json
import os
import subprocess
import sys

import pytest

WORDS = {
    "service": ["C-1"],
    "move": ["C-1", "--to", "Kit"],
    "quarantine": ["C-1", "--why", "x"],
    "release": ["C-1", "--by", "B", "--why", "x"],
    "retire": ["C-1", "--why", "x"],
    "lost": ["C-1"],
    "found": ["C-1"],
    "inspect": ["C-1", "--rest-passes"],
    "interval": [],
    "due": [],
    "pick": ["--use", "belay"],
    "trace": ["--batch", "24A"],
    "backup": ["copy.sqlite"],
    "check": [],
}
HEAVY = ["cv2", "torch", "onnxruntime", "fpdf", "openpyxl", "icalendar", "jinja2", "starlette"]


@pytest.mark.parametrize("name", WORDS)
def test_nothing_heavy_is_loaded(desk, name):
    """No reader of pictures, no printer, no calendar is loaded by a plain command."""
    desk.add("C-1")
    code = (
        "import json, sys\n"
        "from stampreader.cli import run\n"
        f"status = run({[name, *WORDS[name], '--register', str(desk.register)]!r})\n"
        f"print(json.dumps([status, sorted(set({HEAVY!r}) & set(sys.modules))]))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, cwd=desk.folder,
        env={**os.environ, "USER": "ada"},
    )  # fmt: skip
    status, loaded = json.loads(done.stdout.splitlines()[-1])
    assert status in (0, 1), done.stderr
    assert [] == loaded

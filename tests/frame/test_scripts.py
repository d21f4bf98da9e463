"""The scripts around the tests: what they say when something is missing, and that CI runs them."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent.parent


def run_with_tools(folder: Path, *tools: str) -> subprocess.CompletedProcess[str]:
    """Run `tests/run` with nothing on the path but the named tools."""
    for tool in tools:
        (folder / tool).symlink_to(shutil.which(tool))
    return subprocess.run(
        [shutil.which("bash"), str(ROOT / "tests" / "run")],
        env={"PATH": str(folder), "HOME": str(folder)},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=60,
    )


def test_missing_tesseract_is_said_plainly(tmp_path):
    """Where Tesseract is missing and cannot be installed, one line says what to install."""
    done = run_with_tools(tmp_path, "dirname", "id")
    assert 1 == done.returncode
    assert "" == done.stdout
    assert "Tesseract is missing" in done.stderr and "tesseract-ocr" in done.stderr
    assert 1 == len(done.stderr.splitlines())


@pytest.mark.tesseract
def test_missing_python_is_said_plainly(tmp_path):
    """Where there is no Python, one line says which is needed; nothing is made before that."""
    copy = tmp_path / "copy"
    (copy / "tests").mkdir(parents=True)
    shutil.copy(ROOT / "tests" / "run", copy / "tests" / "run")
    tools = tmp_path / "tools"
    tools.mkdir()
    for tool in ("dirname", "id", "tesseract", "chromium"):
        (tools / tool).symlink_to(shutil.which(tool))
    done = subprocess.run(
        [shutil.which("bash"), str(copy / "tests" / "run")],
        env={"PATH": str(tools)},
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert 1 == done.returncode
    assert "Python 3.11 or newer is missing" in done.stderr
    assert not (copy / ".venv").exists()


def test_ci_runs_what_everyone_runs():
    """Continuous integration calls exactly `bash tests/run`, with the training tests."""
    lines = (ROOT / ".ci" / "run").read_text("utf-8").splitlines()
    commands = [line for line in lines if "tests/run" in line and not line.startswith("#")]
    assert ["bash tests/run </dev/null"] == commands
    assert any("STAMPREADER_TEST_TRAIN=1" in line for line in lines)


@pytest.mark.parametrize("script", ["tests/run", ".ci/run", ".githooks/pre-commit"])
def test_scripts_are_executable_and_stop_at_the_first_error(script):
    """Each script can be started by name, parses, and stops when a step fails."""
    path = ROOT / script
    assert os.access(path, os.X_OK)
    assert "set -euo pipefail" in path.read_text("utf-8")
    subprocess.run([shutil.which("bash"), "-n", str(path)], check=True)


def test_the_hook_runs_the_tools_of_the_tests():
    """The hook before a commit runs the same checks, in the same words, as `tests/run`."""
    hook = (ROOT / ".githooks" / "pre-commit").read_text("utf-8")
    checks = [
        line.split("-m ", 1)[1].split(" ||")[0].strip()
        for line in (ROOT / "tests" / "run").read_text("utf-8").splitlines()
        if ("-m ruff" in line and "Run:" not in line) or "-m mypy" in line
    ]
    assert 3 == len(checks)
    assert all(f"-m {check}" in hook for check in checks)

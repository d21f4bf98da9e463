"""Every command explains itself, stands in README, and loads no more than it needs."""

import subprocess
import sys
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from stampreader.cli.app import COMMANDS, app

ROOT = Path(__file__).resolve().parent.parent
GROUP = typer.main.get_command(app)

WITHOUT_OPENCV = {
    "list": [],
    "standards": ["EN 362"],
    "margin": ["--figures", "27/8/7", "--load", "1 kN", "--ratio", "10"],
    "rig": ["--help"],
}
"""Commands, with arguments, that never look at a picture."""


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help(name):
    """A command says in a sentence what it does, and `--help` works."""
    command = GROUP.commands[name]
    assert command.help and command.help.strip().endswith(".")
    done = CliRunner().invoke(app, [name, "--help"])
    assert 0 == done.exit_code
    assert name in done.stdout


@pytest.mark.parametrize("name", COMMANDS)
def test_every_option_and_argument_has_help(name):
    """Each option and argument of a command has a help text in trade words."""
    bare = [p.name for p in GROUP.commands[name].params if not getattr(p, "help", None)]
    assert [] == bare


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_stands_in_readme(name):
    """README shows each command by name."""
    assert f"stampreader {name}" in (ROOT / "README.md").read_text("utf-8")


@pytest.mark.parametrize("name", COMMANDS)
def test_an_unknown_option_is_wrong_usage(name):
    """Wrong usage exits with 2 and says so on standard error, with nothing on standard output."""
    done = CliRunner().invoke(app, [name, "--no-such-option"])
    assert 2 == done.exit_code
    assert "" == done.stdout
    assert "no-such-option" in done.stderr


@pytest.mark.parametrize("name", sorted(WITHOUT_OPENCV))
def test_commands_without_pictures_load_no_opencv(name, tmp_path):
    """Commands that need no picture do not load OpenCV; the name stands in the module table."""
    code = (
        "import sys\n"
        "from typer.testing import CliRunner\n"
        "from stampreader.cli.app import app\n"
        f"CliRunner().invoke(app, {[name, *WITHOUT_OPENCV[name]]!r})\n"
        "print(sorted({'cv2', 'torch', 'onnxruntime'} & set(sys.modules)))\n"
        f"print('stampreader.cli.{name}' in sys.modules)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={"STAMPREADER_REGISTER": str(tmp_path / "register.sqlite"), "HOME": str(tmp_path)},
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert "" == done.stderr
    assert ["[]", "True"] == done.stdout.splitlines()


def test_version_is_shown():
    """`--version` names the program and its version."""
    from stampreader import __version__

    assert f"stampreader {__version__}\n" == CliRunner().invoke(app, ["--version"]).stdout

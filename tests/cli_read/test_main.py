"""The command line's one place of translation: errors become a line and an exit status."""

import pytest
import typer

import stampreader.cli.app
from stampreader.cli import run
from stampreader.errors import (
    PhotoError,
    PlanError,
    RegisterError,
    StampError,
    UnknownConnector,
    UsageError,
)


def raising(error):
    """A command line that does nothing but fail."""

    def app(*_args, **_options):
        raise error

    return app


@pytest.mark.parametrize(
    "error, status",
    [
        (PhotoError("cannot read a.jpg"), 1),
        (RegisterError("the register is locked"), 1),
        (UnknownConnector("no connector TM-1"), 1),
        (UsageError("a load needs a unit", remedy="Write 2 kN."), 2),
        (PlanError("line 3: no such anchor"), 2),
    ],
    ids=lambda value: type(value).__name__ if isinstance(value, StampError) else "",
)
def test_errors_are_one_line(monkeypatch, capsys, error, status):
    """Message and remedy stand on one line of standard error; the status is the error's."""
    monkeypatch.setattr(stampreader.cli.app, "app", raising(error))
    assert status == run([])
    out, said = capsys.readouterr()
    assert ("", f"stampreader: {error.line()}\n") == (out, said)
    assert error.remedy in said


@pytest.mark.parametrize("error", [KeyboardInterrupt(), typer.Abort()], ids=["Ctrl-C", "abort"])
def test_interrupt_is_130(monkeypatch, capsys, error):
    """Ctrl-C anywhere, and at a question, ends with 130 and says that what was stored is kept."""
    monkeypatch.setattr(stampreader.cli.app, "app", raising(error))
    assert 130 == run([])
    assert "what was already stored is kept" in capsys.readouterr().err


def test_interrupted_inside_a_command(monkeypatch, capsys):
    """The parser's own translation of Ctrl-C gives the same status and line."""

    def interrupted():
        raise KeyboardInterrupt

    app = typer.Typer()
    app.command("wait")(interrupted)
    monkeypatch.setattr(stampreader.cli.app, "app", app)
    assert 130 == run([])
    assert "interrupted" in capsys.readouterr().err


def test_a_fault_of_ours_is_not_hidden(monkeypatch):
    """An error that is no bad input comes out as it is."""
    monkeypatch.setattr(stampreader.cli.app, "app", raising(ZeroDivisionError("ours")))
    with pytest.raises(ZeroDivisionError, match="ours"):
        run([])


@pytest.mark.parametrize(
    "arguments, status", [(["--version"], 0), (["--help"], 0), (["nonsense"], 2), (["read"], 2)]
)
def test_statuses_of_the_parser(capsys, arguments, status):
    """Version and help are done; an unknown command and a missing argument are wrong usage."""
    assert status == run(arguments)
    out, said = capsys.readouterr()
    assert (status == 0) == bool(out)
    assert (status == 2) == bool(said)

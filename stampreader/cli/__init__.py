"""Command line: parse, call, show. The one place where errors become a line and an exit status."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from stampreader.errors import StampError

INTERRUPTED = 130


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line; exits 0 done, 1 something refused or failing, 2 wrong usage, 130."""
    sys.exit(run(arguments))


def run(arguments: Sequence[str] | None = None) -> int:
    """Run one command and give its exit status; every error is one line on standard error."""
    import typer

    from stampreader.cli.app import app

    try:
        # Not list(…): the module of the command `list` has taken that name in this package.
        status = app(None if arguments is None else [*arguments], standalone_mode=False)
    except StampError as error:
        sys.stderr.write(f"stampreader: {error.line()}\n")
        return error.status
    except (KeyboardInterrupt, typer.Abort):
        status = INTERRUPTED
    except BrokenPipeError:
        sys.stderr.close()
        return 0
    except Exception as error:
        return _usage(error)
    if status == INTERRUPTED:
        sys.stderr.write("stampreader: interrupted; what was already stored is kept.\n")
    return status if isinstance(status, int) else 0


def _usage(error: Exception) -> int:
    """Show a mistake in the command's words; anything else is a fault of ours and goes on.

    The parser's own error class has had several homes, so it is known by what it can do.
    """
    show = getattr(error, "show", None)
    if show is None:
        raise error
    show()
    return int(getattr(error, "exit_code", 2))

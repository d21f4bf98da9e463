"""Command line: parse, call, show. The one place where errors become a line and an exit status."""

from __future__ import annotations

import sys

from stampreader.errors import StampError


def main() -> None:
    """Run the command line; exits 0 done, 1 something refused or failing, 2 wrong usage, 130."""
    from stampreader.cli.app import app

    try:
        app()
    except StampError as error:
        sys.stderr.write(f"stampreader: {error.line()}\n")
        sys.exit(error.status)
    except KeyboardInterrupt:
        sys.stderr.write("stampreader: interrupted; what was already stored is kept.\n")
        sys.exit(130)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)

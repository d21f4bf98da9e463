"""Opening the page: what must be installed, readers for the phone, links and codes shown."""

from __future__ import annotations

import sys
import webbrowser
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import typer

from stampreader.errors import StampError

if TYPE_CHECKING:
    from stampreader.reading import StandingCrew

NEEDED = {"starlette", "uvicorn", "jinja2", "markupsafe", "multipart", "python_multipart", "anyio"}
PHOTO_SECONDS = 30.0


@contextmanager
def page_tools() -> Iterator[None]:
    """Turn a missing library of the `web` extra into a line that says how to install it."""
    try:
        yield
    except ModuleNotFoundError as error:
        if (error.name or "").split(".")[0] not in NEEDED:
            raise
        raise StampError(
            f"the page needs {error.name}, which is not installed",
            remedy='Run `pip install "stampreader[web]"`.',
        ) from error


def phone_crew(readers: str | None) -> StandingCrew:
    """Readers that stay loaded for the phone's photos; without a choice those that are fast."""
    from stampreader.photo import Limits
    from stampreader.reading import StandingCrew, fast_desk

    limits = Limits(max_seconds=PHOTO_SECONDS)
    if readers:
        return StandingCrew(readers=readers.split(","), threads=2, limits=limits)
    return StandingCrew(make_desk=fast_desk, threads=2, limits=limits)


def show_links(laptop: str, phone: str, *, open_it: bool) -> None:
    """Print the address, open it in the browser, and draw the phone's code."""
    typer.echo(f"Open in the browser on this computer: {laptop}")
    if phone:
        _show_code("Scan with the phone:", phone)
    typer.echo("Ctrl-C here, or Close on the page, ends it. What you confirm is stored at once.")
    sys.stdout.flush()
    if open_it:
        webbrowser.open(laptop)


def show_joined(link: str, *, phone: bool) -> None:
    """Tell that a link was used, and show the next one."""
    if phone:
        _show_code("A phone came in. Scan for another one:", link)
    else:
        typer.echo(f"Opened. To open it once more: {link}")
    sys.stdout.flush()


def _show_code(told: str, link: str) -> None:
    """A link with its QR code, drawn where a terminal can show it."""
    import segno

    typer.echo(f"{told} {link}")
    if sys.stdout.isatty():
        segno.make(link, error="l", micro=False).terminal(compact=True)

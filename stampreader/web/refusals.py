"""The one place where errors become what the page shows: a status and a line that leaks nothing."""

from __future__ import annotations

from stampreader.errors import RefusedStep, RegisterError, StampError, UnknownConnector, UsageError
from stampreader.register import RegisterBusy
from stampreader.web.guard import TooLarge, TooSlow
from stampreader.web.shelf import CannotKeep


class NotFound(StampError):
    """Nothing is kept under this name."""

    kind = "not-found"
    remedy = "Go back to the start page."


class TooMany(StampError):
    """Too many photos at once, or with one key."""

    kind = "too-many"
    remedy = "Wait a moment, then send it again."


STATUSES: tuple[tuple[type[StampError], int], ...] = (
    (NotFound, 404),
    (UnknownConnector, 404),
    (TooLarge, 413),
    (TooSlow, 408),
    (TooMany, 429),
    (CannotKeep, 507),
    (UsageError, 422),
    (RefusedStep, 409),
    (RegisterBusy, 503),
)
SAFE = (NotFound, UnknownConnector, TooLarge, TooSlow, TooMany, UsageError, RefusedStep)
"""Errors whose words hold nothing of this computer, only what was asked and typed."""
BUSY = "The register is being written by another window. Wait a moment, then try again."
REGISTER = "The register cannot be read or written now. See the terminal; what was stored is kept."
OTHER = "That did not work. See the terminal; what was confirmed is stored."


def status_of(error: StampError) -> int:
    """The HTTP status of an error."""
    return next((status for kind, status in STATUSES if isinstance(error, kind)), 500)


def line_of(error: StampError) -> str:
    """An error in a line for the page; paths and inner names stay in the terminal."""
    if isinstance(error, SAFE):
        text = error.line()
        return text[:1].upper() + text[1:]
    if isinstance(error, RegisterBusy):
        return BUSY
    return REGISTER if isinstance(error, RegisterError) else OTHER

"""Errors a person may meet. Each says what is wrong, what to do next, and its exit status."""

from __future__ import annotations


class StampError(Exception):
    """Base of all errors that are shown as one line.

    Attributes:
        kind: stable word for JSON output.
        status: exit status of the command line (1 something refused or failing, 2 wrong usage).
        remedy: what to do next, one sentence.
    """

    kind = "error"
    status = 1
    remedy = ""

    def __init__(self, message: str, *, remedy: str | None = None) -> None:
        super().__init__(message)
        if remedy is not None:
            self.remedy = remedy

    def line(self) -> str:
        """Message and remedy as one line; what cannot be printed is escaped, for it may steer a
        terminal."""
        text = f"{str(self).rstrip('.')}. {self.remedy}".strip()
        return "".join(c if c.isprintable() else repr(c)[1:-1] for c in text)


class UsageError(StampError):
    """The command was given values it cannot work with."""

    kind = "usage"
    status = 2


class PhotoError(StampError):
    """A photo cannot be read."""

    kind = "photo"
    remedy = "Check the file, or take the photo again."


class ReaderError(StampError):
    """A reader cannot work: weights missing or altered, engine missing."""

    kind = "reader"
    remedy = "Reinstall stampreader."


class RegisterError(StampError):
    """The register cannot be opened, read or written."""

    kind = "register"
    remedy = "Check the register file, its folder and the free space."


class UnknownConnector(RegisterError):
    """No connector with this id stands in the register."""

    kind = "unknown-connector"
    remedy = "See `stampreader list` for the ids."


class RefusedStep(RegisterError):
    """A life event that is not allowed in the connector's present state."""

    kind = "refused"
    remedy = "See the connector's history with `stampreader show`."


class PlanError(StampError):
    """A rig plan that cannot be worked out."""

    kind = "plan"
    status = 2
    remedy = "Correct the plan and run the command again."


class ImportRefused(StampError):
    """A file to import that cannot be understood."""

    kind = "import"
    remedy = "Nothing was imported; correct the file and run the command again."

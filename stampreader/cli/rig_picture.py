"""Writing the picture of a rig to its file."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from stampreader.cli.common import say
from stampreader.errors import StampError
from stampreader.rig import Worked


def write_picture(worked: Worked, path: Path, drawn_at: datetime) -> None:
    """Draw a rig and write it; the ending of the name says which kind.

    Raises:
        StampError: the file cannot be written, or the kind needs a part that is not installed.
    """
    from stampreader.report.rig_picture import rig_picture

    picture = rig_picture(worked, path.suffix.lower().lstrip("."), drawn_at)
    try:
        path.write_bytes(picture)
    except OSError as error:
        raise StampError(
            f"{path} cannot be written: {error.strerror}", remedy="Choose another folder or name."
        ) from error
    say(f"Drew {path}.")

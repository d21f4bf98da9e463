"""Photos by content, what was read on them, and the evidence pictures kept inside the register."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import PurePath

from stampreader.errors import RegisterError
from stampreader.register.events import stamp_time
from stampreader.register.raw import reading_from_json, reading_to_json
from stampreader.register.store import Register
from stampreader.words import Reading


@dataclass(frozen=True, slots=True)
class Crop:
    """An evidence picture: the part of a photo a person looked at.

    Attributes:
        photo: SHA-256 of the photo it was cut from.
        stamp: number of the stamp on that photo, from 0.
        media: media type, `image/jpeg` or `image/png`.
        picture: the encoded picture.
    """

    photo: str
    stamp: int
    media: str
    picture: bytes

    @property
    def sha256(self) -> str:
        """SHA-256 of the encoded picture, hex."""
        return hashlib.sha256(self.picture).hexdigest()


def readers_key(readers: Sequence[str]) -> str:
    """Names and versions of the readers as one text; a new version reads a photo again."""
    return "; ".join(readers)


def find_reading(register: Register, sha256: str, readers: str) -> Reading | None:
    """What these very readers have read on this photo before, or `None`."""
    rows = register.rows(
        "SELECT body FROM readings WHERE photo = ? AND readers = ?", [sha256, readers]
    )
    return reading_from_json(json.loads(rows[0]["body"])) if rows else None


def keep_reading(
    register: Register, reading: Reading, crops: Sequence[Crop], *, at: datetime
) -> None:
    """Store a photo's reading and its evidence pictures; the same again changes nothing."""
    moment = stamp_time(at)
    width, height = reading.size
    name = PurePath(reading.photo).name
    body = json.dumps(reading_to_json(reading), ensure_ascii=False)
    with register.writing():
        conn = register.db.conn
        conn.execute(
            "INSERT INTO photos VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING",
            [reading.sha256, name, width, height, reading.taken_on, moment],
        )
        conn.execute(
            "INSERT INTO readings VALUES (?, ?, ?, ?) ON CONFLICT DO NOTHING",
            [reading.sha256, readers_key(reading.readers), moment, body],
        )
        for crop in crops:
            keep_crop(register, crop)


def keep_crop(register: Register, crop: Crop) -> str:
    """Store an evidence picture; gives its SHA-256."""
    with register.writing():
        register.db.conn.execute(
            "INSERT INTO crops VALUES (?, ?, ?, ?, ?) ON CONFLICT DO NOTHING",
            [crop.sha256, crop.photo, crop.stamp, crop.media, crop.picture],
        )
    return crop.sha256


def read_crop(register: Register, sha256: str) -> Crop:
    """An evidence picture by its SHA-256.

    Raises:
        RegisterError: it is not in the register, or was altered there.
    """
    rows = register.rows("SELECT * FROM crops WHERE sha256 = ?", [sha256])
    if not rows:
        raise RegisterError(
            f"the evidence picture {sha256[:12]} is not in this register",
            remedy="Merge the register it was taken with.",
        )
    row = rows[0]
    crop = Crop(row["photo"], row["stamp"], row["media"], bytes(row["picture"]))
    if crop.sha256 != sha256:
        raise RegisterError(
            f"the evidence picture {sha256[:12]} was altered",
            remedy="Run `stampreader check`, and go on with the latest backup.",
        )
    return crop


def photo_is_known(register: Register, sha256: str) -> bool:
    """Whether a photo with this content was read before."""
    return bool(register.rows("SELECT 1 FROM photos WHERE sha256 = ?", [sha256]))


def crops_on(register: Register, sha256: str) -> dict[int, str]:
    """Evidence pictures cut from a photo: number of the stamp to SHA-256, the latest of each."""
    rows = register.rows(
        "SELECT stamp, sha256 FROM crops WHERE photo = ? ORDER BY stamp, rowid", [sha256]
    )
    return {int(row["stamp"]): str(row["sha256"]) for row in rows}


def connectors_on(register: Register, sha256: str) -> list[tuple[int, str]]:
    """(number of the stamp, readable id) of connectors already registered from this photo."""
    rows = register.rows(
        "SELECT p.stamp, c.id FROM connector_photos p JOIN connectors c ON c.uid = p.uid"
        " WHERE p.photo = ? AND c.life != 'withdrawn' ORDER BY p.stamp",
        [sha256],
    )
    return [(int(row["stamp"]), str(row["id"])) for row in rows]

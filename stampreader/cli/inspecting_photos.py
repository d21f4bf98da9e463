"""Photos taken at an inspection: compared with the entry, and kept as evidence."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from stampreader.cli.verifying import the_stamp, verification
from stampreader.confirm import Verdict
from stampreader.errors import PhotoError, UsageError
from stampreader.register import (
    Connector,
    Crop,
    Register,
    Result,
    connectors_on,
    keep_reading,
    readers_key,
    same_case,
)
from stampreader.words import Reading, Sighting, Stamp

if TYPE_CHECKING:
    from stampreader.cli.verifying import Verification
    from stampreader.reading import Attempt

NOT_SEEN = "not seen"
"""How a comparison says that a photo does not show something."""


@dataclass(frozen=True, slots=True)
class Looked:
    """What the photos of one connector showed.

    Attributes:
        seen: its stamp on each photo.
        verdicts: whether each photo matches the entry, in words.
        findings: results of the points `marks` and `same` that follow from the photos.
        readings: what was read, with the evidence pictures.
        in_doubt: what was seen but not clearly, so that the person must look; empty if nothing.
    """

    seen: tuple[Sighting, ...]
    verdicts: tuple[str, ...]
    findings: Mapping[str, tuple[Result, str]]
    readings: tuple[tuple[Reading, tuple[Crop, ...]], ...]
    in_doubt: str = ""

    def keep(self, book: Register, *, at: datetime) -> None:
        """Store the readings and their pictures; the same again changes nothing."""
        for reading, crops in self.readings:
            keep_reading(book, reading, crops, at=at)


def look_at(
    book: Register, photos: Sequence[tuple[Connector, Sequence[Path]]]
) -> dict[str, Looked]:
    """Read photos of connectors, all in one go, and compare each with its connector's entry.

    A stamp that differs fails the point `same`; a figure that cannot be seen fails the point
    `marks`. One that is seen but in doubt decides nothing: the person looks and says. The person
    may always say otherwise with --pass, after looking at the connector itself.

    Raises:
        PhotoError: a photo cannot be used.
        UsageError: a photo is evidence of another connector already.
    """
    from stampreader.photo import find_photos
    from stampreader.reading import read_many

    shown = [(c, path) for c, paths in photos for path in find_photos(paths)]
    attempts = list(read_many([path for _, path in shown], crops=True))
    return {
        c.uid: _looked(book, c, [a for (of, _), a in zip(shown, attempts, strict=True) if of is c])
        for c, _ in photos
    }


def _looked(book: Register, connector: Connector, attempts: Sequence[Attempt]) -> Looked:
    kept = [_kept(book, connector, attempt) for attempt in attempts]
    verifications = [verification(book, connector, [attempt]) for attempt in attempts]
    seen = tuple(_sighting(reading, crops) for reading, crops in kept)
    verdicts = tuple(v.verdict.value for v in verifications)
    findings = _findings(verifications)
    doubt = "" if findings else _why(verifications, Verdict.CANNOT_TELL)
    return Looked(seen, verdicts, findings, tuple(kept), doubt)


def _kept(
    book: Register, connector: Connector, attempt: Attempt
) -> tuple[Reading, tuple[Crop, ...]]:
    if attempt.reading is None:
        raise PhotoError(attempt.failure.message if attempt.failure else attempt.path)
    reading = attempt.reading
    others = [
        id
        for _, id in connectors_on(book, reading.sha256)
        if same_case(id) != same_case(connector.id)
    ]
    if others:
        raise UsageError(
            f"{reading.photo} is evidence of {others[0]} already",
            remedy=f"Take a photo of {connector.id} alone.",
        )
    crops = tuple(
        Crop(reading.sha256, number, "image/jpeg", picture)
        for number, picture in enumerate(attempt.crops)
    )
    return reading, crops


def _sighting(reading: Reading, crops: Sequence[Crop]) -> Sighting:
    stamp, _ = the_stamp(reading)
    number = reading.stamps.index(stamp) if stamp is not None else 0
    return Sighting(
        photo=reading.sha256,
        number=number,
        stamp=stamp or Stamp(),
        readers=readers_key(reading.readers),
        crop=crops[number].sha256 if number < len(crops) else None,
        path=reading.photo,
    )


def _findings(verifications: Sequence[Verification]) -> dict[str, tuple[Result, str]]:
    """What the photos say of the points `marks` and `same`; the worst photo decides."""
    verdicts = {v.verdict for v in verifications}
    if Verdict.DIFFERS in verdicts:
        return {"same": (Result.FAIL, _why(verifications, Verdict.DIFFERS))}
    if Verdict.MATCHES in verdicts:
        return {
            "marks": (Result.PASS, "read on the photo"),
            "same": (Result.PASS, "the photo matches"),
        }
    if all(_misses_a_figure(v) for v in verifications):
        return {"marks": (Result.FAIL, _why(verifications, Verdict.CANNOT_TELL))}
    return {}


def _misses_a_figure(result: Verification) -> bool:
    """Whether a figure of the register could not be seen on the photo at all."""
    items = result.comparison.items
    figures = [item for item in items if item.field in ("closed", "cross", "open")]
    return not figures or any(item.seen == NOT_SEEN for item in figures)


def _why(verifications: Sequence[Verification], verdict: Verdict) -> str:
    reasons = dict.fromkeys(
        reason for v in verifications if v.verdict is verdict for reason in _reasons(v, verdict)
    )
    said = "; ".join(reasons) or "nothing could be compared"
    return f"on the photo {said}"[:400]


def _reasons(result: Verification, verdict: Verdict) -> Iterator[str]:
    yield from result.problems
    for item in result.comparison.items:
        if item.verdict is verdict and verdict is Verdict.DIFFERS:
            yield f"{item.field} {item.seen} instead of {item.registered}"
        elif item.verdict is verdict and item.seen == NOT_SEEN:
            yield f"{item.field} cannot be read"
        elif item.verdict is verdict:
            yield f"{item.field} {item.why or 'is in doubt'}"

"""The work of `intake`: photos read once, kept, matched to connectors and put on the list."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from stampreader.confirm import Matched, Taken, match
from stampreader.register import (
    Crop,
    Register,
    add_arrival,
    add_photos,
    arrival_of_photo,
    connectors_on,
    crops_on,
    find_reading,
    id_is_taken,
    keep_reading,
    photo_is_known,
    readers_key,
    waiting_with_label,
)

if TYPE_CHECKING:
    from stampreader.reading import Attempt

Clock = Callable[[], datetime]


@dataclass
class Report:
    """What became of the photos.

    Attributes:
        read: photos read now.
        kept: photos read before by the same readers and taken from the register.
        failed: lines on photos that could not be read.
        known: lines on photos and labels that are in the register already.
        arrived: keys of the arrivals put on the list.
    """

    read: int = 0
    kept: int = 0
    failed: list[str] = field(default_factory=list)
    known: list[str] = field(default_factory=list)
    arrived: list[int] = field(default_factory=list)


def take_in(
    register: Register,
    paths: Sequence[Path],
    delivery: str,
    *,
    per_connector: int,
    readers: Sequence[str] | None,
    jobs: int | None,
    clock: Clock,
    scheduler: str | None = None,
) -> Report:
    """Read photos and put the connectors they show on the list of arrivals.

    Each reading is stored as soon as it is there, so a run that was cut off reads no photo twice;
    the arrivals of a run are put on the list together.
    """
    report = Report()
    new = list(_not_known(register, paths, report))
    before = _read_before(register, new, readers)
    unread = [path for path, sha256 in new if sha256 not in before]
    with _attempts(unread, readers, jobs, scheduler) as attempts:
        taken = list(_readings(register, new, before, attempts, clock, report))
    with register.writing():
        for matched in match(taken, per_connector):
            _put_on_list(register, matched, delivery, clock, report)
    return report


def _not_known(
    register: Register, paths: Sequence[Path], report: Report
) -> Iterator[tuple[Path, str]]:
    """Photos not seen before, with the SHA-256 of their bytes; the same photo twice is told."""
    first: dict[str, Path] = {}
    for path in paths:
        sha256 = fingerprint(path)
        if not sha256:
            yield path, ""
        elif sha256 in first:
            report.known.append(f"{path} is the same photo as {first[sha256]}")
        else:
            first[sha256] = path
            known = _where_known(register, sha256)
            if known:
                report.known.append(f"{path} is known: {known}")
            else:
                yield path, sha256


def fingerprint(path: Path) -> str:
    """SHA-256 of a file's bytes, hex; empty if it cannot be a photo (reading it will say why)."""
    from stampreader.photo import Limits

    digest = hashlib.sha256()
    try:
        if not path.is_file() or path.stat().st_size > Limits().max_bytes:
            return ""
        with path.open("rb") as file:
            while block := file.read(1 << 20):
                digest.update(block)
    except OSError:
        return ""
    return digest.hexdigest()


def _where_known(register: Register, sha256: str) -> str:
    ids = [id for _, id in connectors_on(register, sha256)]
    if ids:
        return f"{', '.join(ids)} was entered from it"
    for row in arrival_of_photo(register, sha256):
        state = "waits to be confirmed" if row["status"] == "waiting" else "was set aside"
        return f"it {state} in delivery {row['delivery']}"
    return ""


def _readings(
    register: Register,
    photos: Sequence[tuple[Path, str]],
    before: dict[str, Taken],
    attempts: Iterator[Attempt],
    clock: Clock,
    report: Report,
) -> Iterator[Taken]:
    """Readings in the order of the photos, from the register or read now."""
    for _, sha256 in photos:
        if sha256 in before:
            report.kept += 1
            yield before[sha256]
            continue
        attempt = next(attempts)
        if attempt.reading is None:
            report.failed.append(attempt.failure.message if attempt.failure else attempt.path)
            continue
        report.read += 1
        yield _keep(register, attempt, clock)


def _read_before(
    register: Register, photos: Sequence[tuple[Path, str]], readers: Sequence[str] | None
) -> dict[str, Taken]:
    """What these very readers read on these photos in a run that was cut off."""
    known = {sha256 for _, sha256 in photos if photo_is_known(register, sha256)}
    if not known:
        return {}
    from stampreader.reading import default_readers

    key = readers_key([f"{r.name} {r.version}" for r in default_readers(readers)])
    found = {}
    for path, sha256 in photos:
        reading = find_reading(register, sha256, key) if sha256 in known else None
        if reading is not None:
            crops = crops_on(register, sha256)
            count = max(1, len(reading.stamps))
            found[sha256] = Taken(
                replace(reading, photo=str(path)), tuple(crops.get(n, "") for n in range(count))
            )
    return found


@contextmanager
def _attempts(
    paths: Sequence[Path],
    readers: Sequence[str] | None,
    jobs: int | None,
    scheduler: str | None,
) -> Iterator[Iterator[Attempt]]:
    if not paths:  # nothing to read loads no readers
        yield iter(())
        return
    from stampreader.cli.machines import attempts_on

    with attempts_on(
        paths, readers=readers, jobs=jobs, scheduler=scheduler, crops=True
    ) as attempts:
        yield attempts


def _keep(register: Register, attempt: Attempt, clock: Clock) -> Taken:
    assert attempt.reading is not None
    reading = attempt.reading
    crops = [
        Crop(reading.sha256, number, "image/jpeg", picture)
        for number, picture in enumerate(attempt.crops)
    ]
    keep_reading(register, reading, crops, at=clock())
    return Taken(reading, tuple(crop.sha256 for crop in crops))


def _put_on_list(
    register: Register, matched: Matched, delivery: str, clock: Clock, report: Report
) -> None:
    label = matched.label
    if label is not None and id_is_taken(register, label):
        report.known.append(
            f"label {label} is in the register already: compare it with "
            f"`stampreader verify {matched.seen[0].path} {label}`"
        )
        return
    waits = waiting_with_label(register, label) if label is not None else None
    if waits is not None:
        add_photos(register, waits, matched.seen)
        report.arrived.append(waits)
        return
    report.arrived.append(
        add_arrival(register, delivery, matched.seen, at=clock(), label=label, notes=matched.notes)
    )

"""Which stamps of which photos show the same connector."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from stampreader.paper import label_id
from stampreader.words import Reading, Sighting, Stamp

_ID = re.compile(r"[A-Z0-9][A-Z0-9._/-]{0,39}", re.IGNORECASE | re.ASCII)


@dataclass(frozen=True, slots=True)
class Taken:
    """A photo that was read, with the evidence pictures of its stamps.

    Attributes:
        reading: what was read.
        crops: SHA-256 of each stamp's evidence picture; for a photo without stamps that of the
            whole photo.
    """

    reading: Reading
    crops: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Matched:
    """A connector made out from photos, before it is put on the list of arrivals."""

    seen: tuple[Sighting, ...]
    label: str | None = None
    notes: tuple[str, ...] = ()


def match(photos: Sequence[Taken], per_connector: int = 1) -> tuple[Matched, ...]:
    """Match photos to connectors.

    A photo that shows one stamp and one of our labels belongs to that label's connector. On a photo
    sheet each stamp belongs to the connector whose label is printed on its cell. Photos
    without a label are taken in file order, `per_connector` at a time. A photo that shows several
    connectors gives one each.

    Args:
        photos: the photos in file order.
        per_connector: how many photos were taken of each connector.
    """
    matched: list[Matched] = []
    by_label: dict[str, int] = {}
    run: list[Sighting] = []
    for photo in photos:
        stamps = photo.reading.stamps
        if "sheet" in photo.reading.extras:
            if run:
                matched.append(_of_run(run, (), per_connector))
                run = []
            _match_sheet(matched, by_label, photo)
            continue
        label, note = _label_of(photo.reading)
        if label is None and len(stamps) <= 1:
            run.append(_sighting(photo, 0))
            if len(run) == per_connector:
                matched.append(_of_run(run, note, per_connector))
                run = []
            continue
        if run:
            matched.append(_of_run(run, (), per_connector))
            run = []
        if label is not None:
            _add_labelled(matched, by_label, label, _sighting(photo, 0))
        else:
            matched.extend(_several(photo, note, per_connector))
    if run:
        matched.append(_of_run(run, (), per_connector))
    return tuple(matched)


def _of_run(run: Iterable[Sighting], notes: tuple[str, ...], per_connector: int) -> Matched:
    seen = tuple(run)
    if len(seen) < per_connector:
        notes = (*notes, f"Only {len(seen)} of {per_connector} photos of it were taken.")
    return Matched(seen, None, notes)


def _add_labelled(
    matched: list[Matched], by_label: dict[str, int], label: str, sighting: Sighting
) -> None:
    place = by_label.get(label)
    if place is None:
        by_label[label] = len(matched)
        matched.append(Matched((sighting,), label))
    else:
        matched[place] = replace(matched[place], seen=(*matched[place].seen, sighting))


def _match_sheet(matched: list[Matched], by_label: dict[str, int], photo: Taken) -> None:
    """What lay on the cells of a photo sheet, by the labels printed on them."""
    extras = photo.reading.extras
    for number in range(len(photo.reading.stamps)):
        label = parse_label(extras.get(f"label {number}", ""))
        if label is not None:
            _add_labelled(matched, by_label, label, _sighting(photo, number))
            continue
        cell = extras.get(f"cell {number}", "?")
        note = f"The code of cell {cell} of the photo sheet could not be read."
        matched.append(Matched((_sighting(photo, number),), None, (note,)))


def _several(photo: Taken, notes: tuple[str, ...], per_connector: int) -> Iterable[Matched]:
    if per_connector > 1:
        notes = (*notes, "Its photo shows several connectors, so no other photo was added to it.")
    for number in range(len(photo.reading.stamps)):
        yield Matched((_sighting(photo, number),), None, notes)


def _label_of(reading: Reading) -> tuple[str | None, tuple[str, ...]]:
    """The label that belongs to the only stamp of a photo, and what to tell if there is none."""
    labels = tuple(dict.fromkeys(filter(None, map(parse_label, reading.labels))))
    if not labels:
        return None, ()
    if len(labels) == 1 and len(reading.stamps) <= 1:
        return labels[0], ()
    return None, (f"Several labels or connectors in one photo: {', '.join(labels)} not used.",)


def parse_label(text: str) -> str | None:
    """The id on one of our labels, `None` for any other code."""
    id = label_id(text)
    return id if id is not None and _ID.fullmatch(id) else None


def _sighting(photo: Taken, number: int) -> Sighting:
    reading = photo.reading
    return Sighting(
        photo=reading.sha256,
        number=number,
        stamp=reading.stamps[number] if number < len(reading.stamps) else Stamp(),
        readers="; ".join(reading.readers),
        crop=(photo.crops[number] or None) if number < len(photo.crops) else None,
        path=reading.photo,
    )

"""One photo from pixels to a reading: the one place where the two halves meet.

The first reader leads: its glyphs are grouped into stamps. The other readers look at the lines
found, straightened, without being told what the first one saw there. Their agreement makes a
figure sure; the standard claimed beside a figure may only take that away.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import replace

from stampreader.figures import Caps, Draft, find_stamps, judge
from stampreader.marks import find_spans
from stampreader.photo import Photo, read_labels, read_sheet
from stampreader.reader import Reader, ReaderStopped
from stampreader.reading.desk import Desk, Finder
from stampreader.reading.lines import line_faces
from stampreader.reading.minimum import below_minimum
from stampreader.reading.sheeted import read_cells
from stampreader.reading.vote import fullness
from stampreader.spine import Face, find_faces
from stampreader.words import SLOTS, Doubt, Glyph, Reading, Stamp

LITTLE = 1
"""Where no more figures than this were read, the photo is searched once more, closer."""
CLEARLY = 0.6
"""By so much more confidence, all figures together, the closer search has to be better to count."""


def read_photo(
    photo: Photo,
    readers: Sequence[Reader],
    finder: Finder = find_faces,
    caps: Caps = Caps(),  # noqa: B008 (frozen value)
    closer: Finder | None = None,
) -> Reading:
    """Read the stamps on one photo.

    Args:
        photo: upright photo.
        readers: the first one leads, the others are compared with it.
        finder: finds the faces the first reader looks at.
        caps: thresholds of judging.
        closer: finds the faces once more where little was read; what is clearly better counts.

    Returns:
        The reading; without stamps if nothing was found. A reader that stops on this photo
        leaves a note, and its glyphs are missing. On a photo sheet each cell is read by itself.

    Raises:
        PhotoError: a photo sheet is in the picture, but its place cannot be made out.
    """
    return read_with(Desk(tuple(readers), finder, caps, closer), photo)


def read_with(desk: Desk, photo: Photo) -> Reading:
    """Read the stamps on one photo with everything a desk holds, as `read_photo` does."""
    cells = read_sheet(photo)
    if cells is not None:
        return read_cells(photo, cells, lambda cell: _read_one(cell, desk))
    return _read_one(photo, desk)


def _read_one(photo: Photo, desk: Desk) -> Reading:
    """Read a photo that is no photo sheet, or one cell of it."""
    start = time.perf_counter()
    readers = desk.readers
    notes = list(photo.notes)
    stamps = _stamps_on(photo, desk.finder(photo), desk, notes)
    count, confidence = fullness(*stamps)
    faces = desk.closer(photo) if desk.closer is not None and count <= LITTLE else ()
    if faces:
        closer = _stamps_on(photo, faces, desk, notes)
        stamps = closer if fullness(*closer)[1] > confidence + CLEARLY else stamps
    if not stamps:
        notes.append("No stamp was found; take the photo closer, sharper, or with the light moved.")
    return Reading(
        photo=str(photo.path),
        sha256=photo.sha256,
        size=photo.size,
        stamps=stamps,
        labels=tuple(label.text for label in read_labels(photo)),
        readers=tuple(f"{reader.name} {reader.version}" for reader in readers),
        notes=tuple(dict.fromkeys(notes)),
        seconds=time.perf_counter() - start,
        taken_on=photo.taken_on,
    )


def _stamps_on(
    photo: Photo, faces: tuple[Face, ...], desk: Desk, notes: list[str]
) -> tuple[Stamp, ...]:
    """The stamps on the faces that a search found."""
    glyphs = _ask(desk.readers[0], photo, faces, notes)
    drafts = find_stamps(glyphs, photo.size, find_spans)
    return _judged(photo, drafts, desk.readers[1:], desk.caps, notes)


def _judged(
    photo: Photo,
    drafts: Sequence[Draft],
    readers: Sequence[Reader],
    caps: Caps,
    notes: list[str],
) -> tuple[Stamp, ...]:
    """Stamps judged with the other readers' glyphs.

    A slow reader is asked only where a figure has one witness so far: where two readers agree or
    differ already, a third changes no state.
    """
    faces = tuple(face for draft in drafts for face in line_faces(draft))
    others: dict[str, tuple[Glyph, ...]] = {}
    stamps = _stamps(drafts, others, caps)
    for reader in readers:
        if faces and (not getattr(reader, "slow", False) or _lack_a_witness(stamps)):
            others[reader.name] = _ask(reader, photo, faces, notes)
            stamps = _stamps(drafts, others, caps)
    return stamps


def _stamps(
    drafts: Sequence[Draft], others: Mapping[str, Sequence[Glyph]], caps: Caps
) -> tuple[Stamp, ...]:
    return tuple(below_minimum(judge(draft, others, caps)) for draft in drafts)


def _lack_a_witness(stamps: Sequence[Stamp]) -> bool:
    return any(Doubt.ONE_READER in stamp.figure(slot).doubts for stamp in stamps for slot in SLOTS)


def _ask(
    reader: Reader, photo: Photo, faces: tuple[Face, ...], notes: list[str]
) -> tuple[Glyph, ...]:
    """A reader's glyphs; if it stops on this photo, none and a note."""
    try:
        glyphs = reader.read_glyphs(photo, faces)
    except ReaderStopped as error:
        notes.append(error.line())
        return ()
    return tuple(g if g.reader else replace(g, reader=reader.name) for g in glyphs)

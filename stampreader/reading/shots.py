"""Several shots of one worn face as one reading: registered, combined, read and fused.

What the first reader sees on the relief map and the reflectance map says where the marks stand;
there every shot is read as well. All these looks are fused glyph by glyph, for each reader by
itself, and judged as the glyphs of one photo are. Nothing certifies what readers make of such
maps, so no figure of a stack is ever sure: a person looks at each.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
import numpy.typing as npt

from stampreader.figures import find_stamps, judge
from stampreader.marks import find_spans
from stampreader.photo import Photo, photo_from_pixels, printable, read_labels
from stampreader.reader import Reader, ReaderStopped
from stampreader.reading.desk import Desk
from stampreader.reading.lines import line_faces
from stampreader.reading.minimum import below_minimum
from stampreader.reading.sheeted import Move, moved_stamp
from stampreader.relief import (
    Lamp,
    Relief,
    Stack,
    combine,
    fuse_looks,
    lamps_of,
    next_shot,
    stack_shots,
)
from stampreader.spine import Face, face_along
from stampreader.words import SLOTS, Glyph, Point, Reading, Stamp

Pixels = npt.NDArray[np.uint8]
Read = Callable[[Photo], Reading]

AROUND = 1.2
"""Space left round the marks found, in heights of a character, when every shot is read there."""
MOST_PLACES = 4
"""So many places with marks are read on every shot at most."""
FIRM = 0.3
"""Least confidence of a glyph that says that marks stand at its place."""


@dataclass(frozen=True, slots=True, eq=False)
class StackReading:
    """What a stack of shots shows.

    Attributes:
        reading: as of one photo, in pixels of the reference shot.
        stack: the registered shots.
        relief: the two maps.
        lamps: where the lamp stood, one a shot that fits.
        advice: what would help next; empty if nothing is in doubt.
        best: the shot that shows most by itself: its number among those given.
    """

    reading: Reading
    stack: Stack
    relief: Relief
    lamps: tuple[Lamp, ...]
    advice: str
    best: int


def read_shots(photos: Sequence[Photo], desk: Desk) -> StackReading:
    """Read a worn face from 3 to 12 shots with the lamp moved.

    Args:
        photos: upright shots.
        desk: readers, finder and thresholds.

    Raises:
        UsageError: too few or too many shots.
        PhotoError: fewer than three show the same face.
    """
    start = time.perf_counter()
    stack = stack_shots(photos, desk.finder)
    relief = combine(stack.shots, stack.frame.glyph_px, stack.frame.weight)
    notes: list[str] = [_left_out(photos, stack)] if _left_out(photos, stack) else []
    pictures = [relief.height, relief.reflectance, *stack.shots]
    looks = _looks(desk, pictures, notes)
    stamps = _stamps(desk, pictures, looks, stack.frame.size, notes)
    lamps = lamps_of(relief.lights, stack.shots, stack.frame)
    advice = next_shot(lamps, any(_is_open(stamp) for stamp in stamps) or not stamps)
    reference = photos[stack.reference]
    if not stamps:
        notes.append("Nothing was read on this face, by any shot or all together.")
    reading = Reading(
        photo=str(reference.path),
        sha256=reference.sha256,
        size=reference.size,
        stamps=tuple(moved_stamp(stamp, _mover(stack)) for stamp in stamps),
        labels=tuple(dict.fromkeys(label.text for p in photos for label in read_labels(p))),
        readers=tuple(f"{reader.name} {reader.version}" for reader in desk.readers),
        notes=tuple(dict.fromkeys([*notes, *([advice] if advice else [])])),
        seconds=time.perf_counter() - start,
        taken_on=reference.taken_on,
    )
    return StackReading(reading, stack, relief, lamps, advice, _best(stack, looks))


def _left_out(photos: Sequence[Photo], stack: Stack) -> str:
    """Which shots were left out and why, one sentence."""
    named = [
        f"{printable(photos[fit.number].path.name)} {fit.trouble}"
        for fit in stack.fits
        if fit.to_shot is None
    ]
    return f"Left out: {'; '.join(named)}." if named else ""


def _looks(desk: Desk, pictures: Sequence[Pixels], notes: list[str]) -> list[tuple[Glyph, ...]]:
    """What the first reader sees on each picture: on the maps first, then there on the shots."""
    maps = [_read_map(desk, picture, notes) for picture in pictures[:2]]
    places = _places([g for look in maps for g in look], pictures[0].shape)
    if not places:
        first = photo_from_pixels(pictures[2])
        places = desk.finder(first)[:MOST_PLACES]
    shots = [_ask(desk.readers[0], photo_from_pixels(p), places, notes) for p in pictures[2:]]
    return [*maps, *shots]


def _read_map(desk: Desk, picture: Pixels, notes: list[str]) -> tuple[Glyph, ...]:
    photo = photo_from_pixels(picture)
    return _ask(desk.readers[0], photo, desk.finder(photo), notes)


def _places(glyphs: Sequence[Glyph], shape: tuple[int, ...]) -> tuple[Face, ...]:
    """Level faces round the glyphs of the maps, largest first."""
    mask = np.zeros(shape[:2], np.uint8)
    firm = [g for g in glyphs if g.confidence >= FIRM]
    for g in firm:
        reach = (round(1.6 * g.height_px), round(AROUND * g.height_px))
        x, y = round(g.x), round(g.y)
        cv2.rectangle(mask, (x - reach[0], y - reach[1]), (x + reach[0], y + reach[1]), 255, -1)
    count, names, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
    names = np.asarray(names, np.int32)
    order = sorted(range(1, count), key=lambda k: -int(stats[k, cv2.CC_STAT_AREA]))
    faces = []
    for k in order[:MOST_PLACES]:
        x, y, wide, high = (int(v) for v in stats[k, :4])
        inside = [g.height_px for g in firm if _name_at(names, g) == k]
        quad = face_along((x + wide / 2, y + high / 2), wide, high, 0.0)
        faces.append(Face(quad, 0.0, float(np.median(inside)), 1.0))
    return tuple(faces)


def _name_at(names: npt.NDArray[np.int32], glyph: Glyph) -> int:
    high, wide = names.shape
    return int(names[min(max(round(glyph.y), 0), high - 1), min(max(round(glyph.x), 0), wide - 1)])


def _stamps(
    desk: Desk,
    pictures: Sequence[Pixels],
    looks: Sequence[Sequence[Glyph]],
    size: tuple[int, int],
    notes: list[str],
) -> tuple[Stamp, ...]:
    """Stamps from the fused glyphs of all looks, never sure."""
    leading = desk.readers[0]
    drafts = find_stamps(fuse_looks(looks, leading.name), size, find_spans)
    faces = tuple(face for draft in drafts for face in line_faces(draft))
    others = {r.name: _second(r, pictures, faces, notes) for r in desk.readers[1:] if faces}
    caps = replace(desk.caps, calibrated=False)
    return tuple(below_minimum(judge(draft, others, caps)) for draft in drafts)


def _second(
    reader: Reader, pictures: Sequence[Pixels], faces: tuple[Face, ...], notes: list[str]
) -> tuple[Glyph, ...]:
    """What another reader sees on the lines found, fused; a slow one sees the relief alone."""
    shown = pictures[:1] if getattr(reader, "slow", False) else pictures
    return fuse_looks(
        [_ask(reader, photo_from_pixels(p), faces, notes) for p in shown], reader.name
    )


def _ask(
    reader: Reader, photo: Photo, faces: tuple[Face, ...], notes: list[str]
) -> tuple[Glyph, ...]:
    """A reader's glyphs; if it stops, none and a note."""
    try:
        return reader.read_glyphs(photo, faces) if faces else ()
    except ReaderStopped as error:
        notes.append(error.line())
        return ()


def _is_open(stamp: Stamp) -> bool:
    """Whether a figure is missing or in doubt beyond coming from a stack."""
    return any(
        stamp.figure(slot).kN is None or len(stamp.figure(slot).doubts) > 1 for slot in SLOTS
    )


def _best(stack: Stack, looks: Sequence[Sequence[Glyph]]) -> int:
    """The number of the shot on which the first reader saw most."""
    seen = [sum(g.confidence for g in look) for look in looks[2:]]
    return stack.used[int(np.argmax(seen))]


def _mover(stack: Stack) -> Move:
    """Takes points of the frame to the reference shot."""
    matrix = stack.frame.to_photo

    def move(point: Point) -> Point:
        x, y, w = matrix @ (point[0], point[1], 1.0)
        return float(x / w), float(y / w)

    return move

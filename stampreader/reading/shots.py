"""Several shots of one worn face as one reading: registered, combined, read and fused.

What the first reader sees on the relief map and the reflectance map says where the marks stand;
there every shot is read as well. All these looks are fused glyph by glyph, for each reader by
itself, and judged as the glyphs of one photo are. Nothing certifies what readers make of such
maps, so no figure of a stack is ever sure: a person looks at each.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

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
from stampreader.reading.vote import put_to_vote, the_fullest
from stampreader.relief import (
    Frame,
    Lamp,
    Relief,
    Stack,
    combine,
    fuse_looks,
    lamps_of,
    look_closer,
    next_shot,
    stack_shots,
)
from stampreader.spine import Face, face_along
from stampreader.words import SLOTS, Glyph, Point, Quad, Reading, Stamp

Pixels = npt.NDArray[np.uint8]
Read = Callable[[Photo], Reading]


UNPROVEN = (
    "The shots have nothing in common on the face itself: it is blank or too worn, or they show "
    "different faces. Nothing is proposed."
)
FIRST = 3
"""So many shots are read as photos by themselves; all others where these show marks."""
FIRM = 0.4
"""Least confidence of a glyph that says that marks stand at its place."""
FEWEST_MARKS = 2
"""So many glyphs say where the marks are."""
AROUND = 1.6
"""Space left above and below the marks, in heights of a character; thrice that at the ends."""


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
    notes: list[str] = [_left_out(photos, stack)] if _left_out(photos, stack) else []
    whole = stack.frame
    stack, seen = _first_looks(photos, stack, desk, notes)
    framed = stack.frame is not whole
    relief = combine(stack.shots, stack.frame.glyph_px, stack.frame.weight)
    pictures = [relief.height, relief.reflectance, *stack.shots]
    looks = [
        seen[k - 2] if k - 2 in seen else _look(desk, picture, stack.frame, framed, notes)
        for k, picture in enumerate(pictures)
    ]
    stamps = _stamps(desk, pictures, looks, stack.frame.size, notes) if stack.proven else ()
    lamps = lamps_of(relief.lights, stack.shots, stack.frame)
    advice = next_shot(lamps, any(_is_open(stamp) for stamp in stamps) or not stamps)
    reference = photos[stack.reference]
    if not stack.proven:
        notes.append(UNPROVEN)
    elif not stamps:
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


def _first_looks(
    photos: Sequence[Photo], stack: Stack, desk: Desk, notes: list[str]
) -> tuple[Stack, dict[int, tuple[Glyph, ...]]]:
    """A few shots read as photos by themselves, and the stack cut down to where they show marks.

    Returns:
        The stack, and what was seen on each of those shots, in pixels of its frame.
    """
    seen: dict[int, tuple[Glyph, ...]] = {}
    for number in _by_contrast(stack)[:FIRST]:
        fit = stack.fits[number].to_shot
        assert fit is not None, "the shots of a stack fit"
        look = _ask(desk.readers[0], photos[number], desk.finder(photos[number]), notes)
        seen[number] = _moved_glyphs(look, np.linalg.inv(fit @ stack.frame.to_photo))
    marks = _firm_marks(list(seen.values()))
    if len(marks) >= FEWEST_MARKS:
        closer = look_closer(stack, photos, *_round(marks, stack))
        matrix = np.linalg.inv(closer.frame.to_photo) @ stack.frame.to_photo
        seen = {k: _moved_glyphs(look, matrix) for k, look in seen.items()}
        stack = closer
    return stack, {stack.used.index(number): look for number, look in seen.items()}


def _firm_marks(looks: Sequence[Sequence[Glyph]]) -> list[Glyph]:
    """Glyphs seen well enough to say where marks are, of the size most of them have."""
    firm = [g for g in fuse_looks(looks, "") if g.confidence >= FIRM and g.char not in ".-:"]
    if not firm:
        return []
    tall = float(np.median([g.height_px for g in firm]))
    return [g for g in firm if 0.4 * tall < g.height_px < 2.5 * tall]


def _by_contrast(stack: Stack) -> list[int]:
    """Numbers of the shots, the reference first (it was chosen for what it shows)."""
    weight = stack.frame.weight[:, 1:]
    contrast = {
        number: float((np.abs(np.diff(np.log(shot + 12.0), axis=1)) * weight).mean())
        for number, shot in zip(stack.used, stack.shots, strict=True)
    }
    contrast[stack.reference] = math.inf
    return sorted(contrast, key=lambda number: -contrast[number])


def _round(marks: Sequence[Glyph], stack: Stack) -> tuple[Quad, float]:
    """The rectangle along marks, in pixels of the reference, and their height there."""
    tall = float(np.median([g.height_px for g in marks]))
    doubled = np.array([g.confidence for g in marks]) @ np.exp(
        2j * np.radians([g.angle_deg for g in marks])
    )
    turn = float(np.angle(doubled)) / 2
    axes = np.array([(math.cos(turn), math.sin(turn)), (-math.sin(turn), math.cos(turn))])
    spots = np.array([(g.x, g.y) for g in marks]) @ axes.T
    border = AROUND * tall * np.array([3, 1])
    low, high = spots.min(0) - border, spots.max(0) + border
    (x, y), (wide, deep) = (low + high) / 2 @ axes, high - low
    level = face_along((float(x), float(y)), float(wide), float(deep), math.degrees(turn))
    move = _mover(stack)
    a, b, c, d = (move(corner) for corner in level)
    return (a, b, c, d), tall * math.dist(a, b) / float(wide)


def _moved_glyphs(look: Sequence[Glyph], matrix: npt.NDArray[np.floating]) -> tuple[Glyph, ...]:
    """Glyphs taken to other pixels by a homography."""

    def move(x: float, y: float) -> Point:
        u, v, w = matrix @ (x, y, 1.0)
        return float(u / w), float(v / w)

    out = []
    for g in look:
        turn = math.radians(g.angle_deg)
        (x, y), (u, v) = move(g.x, g.y), move(g.x + math.cos(turn), g.y + math.sin(turn))
        grown = math.hypot(u - x, v - y)
        angle = math.degrees(math.atan2(v - y, u - x)) % 360.0
        size = (g.height_px * grown, g.width_px * grown)
        out.append(replace(g, x=x, y=y, angle_deg=angle, height_px=size[0], width_px=size[1]))
    return tuple(out)


def _look(
    desk: Desk, picture: Pixels, frame: Frame, framed: bool, notes: list[str]
) -> tuple[Glyph, ...]:
    """What the first reader sees on a picture of the frame, which may lie close round the marks."""
    width, height = frame.size
    quad = face_along((width / 2, height / 2), width, height, 0.0)
    face = Face(quad, 0.0, frame.glyph_px, 1.0, framed=framed)
    return _ask(desk.readers[0], photo_from_pixels(picture), (face,), notes)


def _stamps(
    desk: Desk,
    pictures: Sequence[Pixels],
    looks: Sequence[Sequence[Glyph]],
    size: tuple[int, int],
    notes: list[str],
) -> tuple[Stamp, ...]:
    """The stamp from all looks together and each by itself, put to the vote; never sure."""
    name = desk.readers[0].name
    together = _judged(desk, pictures, fuse_looks(looks, name), size, notes)
    single = [
        _judged(desk, [picture], look, size, notes)
        for picture, look in zip(pictures, looks, strict=True)
    ]
    elected = put_to_vote(together, [s for s in single if s is not None], desk.caps)
    return () if elected is None else (below_minimum(elected),)


def _judged(
    desk: Desk,
    pictures: Sequence[Pixels],
    glyphs: Sequence[Glyph],
    size: tuple[int, int],
    notes: list[str],
) -> Stamp | None:
    """The fullest stamp among glyphs of the first reader, the others asked about its lines."""
    drafts = find_stamps(glyphs, size, find_spans)
    faces = tuple(face for draft in drafts for face in line_faces(draft))
    others = {r.name: _second(r, pictures, faces, notes) for r in desk.readers[1:] if faces}
    caps = replace(desk.caps, calibrated=False)
    return the_fullest(judge(draft, others, caps) for draft in drafts)


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

"""A photo of the photo sheet: each cell read by itself, each stamp with its connector's id."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from math import atan2, degrees

import cv2
import numpy as np

from stampreader.paper import label_text
from stampreader.photo import Cell, Photo, photo_from_pixels
from stampreader.words import Figure, Mark, Point, Quad, Reading, Stamp

ReadOne = Callable[[Photo], Reading]
Move = Callable[[Point], Point]


def read_cells(photo: Photo, cells: Sequence[Cell], read: ReadOne) -> Reading:
    """Read what lies on the cells of a photo sheet.

    Each occupied cell gives at least one stamp, a blank one where nothing can be read, so that no
    connector of the sheet is lost. `extras` holds, for the stamp with number n, under `cell n` the
    number of its cell and under `label n` its connector's id, empty if the code cannot be read.

    Args:
        photo: the whole photo.
        cells: of the sheet in it.
        read: reads one straightened cell.

    Returns:
        One reading of the whole photo; boxes are in its pixels.
    """
    stamps: list[Stamp] = []
    notes = list(photo.notes)
    extras = {"sheet": str(len(cells))}
    readings: list[Reading] = []
    for cell in (cell for cell in cells if cell.occupied):
        reading = read(photo_from_pixels(cell.crop, f"{photo.path}, cell {cell.number}"))
        readings.append(reading)
        notes += [f"Cell {cell.number}: {note}" for note in reading.notes]
        if cell.id is None:
            notes.append(f"Cell {cell.number}: its code cannot be read.")
        for stamp in _on_photo(cell, reading.stamps):
            extras[f"cell {len(stamps)}"] = str(cell.number)
            extras[f"label {len(stamps)}"] = cell.id or ""
            stamps.append(stamp)
    if not readings:
        notes.append("The photo sheet is empty.")
    return Reading(
        photo=str(photo.path),
        sha256=photo.sha256,
        size=photo.size,
        stamps=tuple(stamps),
        labels=tuple(label_text(cell.id) for cell in cells if cell.id is not None),
        readers=readings[0].readers if readings else (),
        notes=tuple(dict.fromkeys(notes)),
        seconds=sum(reading.seconds for reading in readings),
        taken_on=photo.taken_on,
        extras=extras,
    )


def _on_photo(cell: Cell, stamps: Sequence[Stamp]) -> tuple[Stamp, ...]:
    """Stamps of a cell with their boxes in pixels of the whole photo."""
    if not stamps:
        return (Stamp(box=cell.quad),)
    height, width = cell.crop.shape[:2]
    corners = np.array([(0, 0), (width, 0), (width, height), (0, height)], np.float32)
    matrix = cv2.getPerspectiveTransform(corners, np.array(cell.quad, np.float32))

    def move(point: Point) -> Point:
        x, y, w = matrix @ (point[0] + 0.5, point[1] + 0.5, 1.0)
        return float(x / w) - 0.5, float(y / w) - 0.5

    return tuple(moved_stamp(stamp, move) for stamp in stamps)


def moved_stamp(stamp: Stamp, move: Move) -> Stamp:
    """A stamp with every box moved, and its reading direction turned with them."""
    return replace(
        stamp,
        closed=_moved_figure(stamp.closed, move),
        cross=_moved_figure(stamp.cross, move),
        open=_moved_figure(stamp.open, move),
        marks=tuple(Mark(m.text, m.confidence, _moved_box(m.box, move)) for m in stamp.marks),
        box=_moved_box(stamp.box, move),
        angle_deg=_turned(stamp, move),
    )


def _moved_figure(figure: Figure, move: Move) -> Figure:
    return replace(figure, box=_moved_box(figure.box, move))


def _moved_box(box: Quad | None, move: Move) -> Quad | None:
    if box is None:
        return None
    a, b, c, d = box
    return move(a), move(b), move(c), move(d)


def _turned(stamp: Stamp, move: Move) -> float:
    """The reading direction as it lies in the whole photo."""
    if stamp.box is None:
        return stamp.angle_deg
    turn = np.radians(stamp.angle_deg)
    middle = np.mean(stamp.box, axis=0)
    start = move((float(middle[0]), float(middle[1])))
    end = move((float(middle[0] + 10 * np.cos(turn)), float(middle[1] + 10 * np.sin(turn))))
    return degrees(atan2(end[1] - start[1], end[0] - start[0])) % 360

"""A photo of the sheet as a reading: one stamp a cell, in photo pixels, with its connector's id."""

from __future__ import annotations

import math
from decimal import Decimal

import cv2
import numpy as np
import pytest

from stampreader.confirm import Taken, match
from stampreader.paper import layout_named
from stampreader.photo.sheet import read_sheet
from stampreader.reading.sheeted import read_cells
from stampreader.words import Figure, Mark, Reading, Sighting, Stamp, State

LAYOUT = layout_named("a4", 6)
IDS = [f"TM-{number:04d}" for number in range(40, 46)]


def _with_plates(numbers, slant=0.0):
    """Lays a dark plate of 40 × 12 mm on these cells, turned by `slant` degrees."""

    def edit(page):
        step = page.shape[1] / LAYOUT.paper.width
        for number in numbers:
            place = LAYOUT.cells[number - 1].free
            middle = ((place.x + place.width / 2) * step, (place.y + place.height / 2) * step)
            corners = cv2.boxPoints((middle, (40 * step, 12 * step), slant))
            cv2.fillPoly(page, [np.round(corners).astype(np.int32)], 70)
        return page

    return edit


def _dark_plate(photo):
    """Stands in for the readers: the dark plate of a cell is its stamp, read along its length."""
    _, dark = cv2.threshold(photo.grey, 0, 255, cv2.THRESH_BINARY_INV + cv2.THRESH_OTSU)
    (x, y), (w, h), angle = cv2.minAreaRect(cv2.findNonZero(dark))
    if w < h:
        w, h, angle = h, w, angle - 90
    box = tuple(map(tuple, cv2.boxPoints(((x, y), (w, h), angle)).tolist()))
    figure = Figure(Decimal(27), State.SURE, 0.99, box)
    stamp = Stamp(figure, marks=(Mark("CE 9123", 0.9, box),), angle_deg=angle % 360, box=box)
    return Reading(str(photo.path), photo.sha256, photo.size, (stamp,), readers=("plate 1",))


def _nothing(photo):
    """Stands in for readers that see nothing."""
    return Reading("x", "x", photo.size, notes=("No stamp was found.",), readers=("none 1",))


@pytest.fixture
def laid(take_photo, camera_class):
    """A photo of the sheet with plates on some cells, and the true place of everything."""

    def lay(numbers, slant=0.0, **camera):
        chosen = camera_class(**{"tilt_deg": 20, "roll_deg": 35, **camera})
        return take_photo(IDS, LAYOUT, chosen, _with_plates(numbers, slant))

    return lay


def test_occupied_cells_are_told_from_empty_ones(laid):
    """Plates lie on cells 2, 3 and 6: those are occupied, whatever the light's falloff."""
    for falloff in (0.1, 0.6):
        photo, _ = laid((2, 3, 6), falloff=falloff)
        occupied = [cell.number for cell in read_sheet(photo) if cell.occupied]
        assert [2, 3, 6] == occupied


@pytest.mark.parametrize("slant", [0.0, 25.0, -40.0])
def test_boxes_are_in_pixels_of_the_whole_photo(laid, slant):
    """The plate of cell 5, found in its straightened cell, lies where the camera put it."""
    photo, matrix = laid((5,), slant)
    reading = read_cells(photo, read_sheet(photo), _dark_plate)
    (stamp,) = reading.stamps
    place = LAYOUT.cells[4].free
    middle = np.array([[[place.x + place.width / 2, place.y + place.height / 2]]])
    truth = cv2.perspectiveTransform(middle, matrix).reshape(2)
    found = np.mean(stamp.box, axis=0)
    assert np.abs(found - truth).max() < 2.0
    for box in (stamp.closed.box, stamp.marks[0].box):
        assert np.allclose(box, stamp.box)
    turn = math.radians(slant)
    ahead = middle + 5 * np.array([[[math.cos(turn), math.sin(turn)]]])
    along = cv2.perspectiveTransform(ahead, matrix).reshape(2) - truth
    expected = math.degrees(math.atan2(along[1], along[0]))
    off = (stamp.angle_deg - expected + 90) % 180 - 90
    assert abs(off) < 2.0


def test_each_stamp_has_its_connectors_id(laid):
    """Three plates: three arrivals under the ids printed on their cells."""
    photo, _ = laid((1, 4, 6))
    reading = read_cells(photo, read_sheet(photo), _dark_plate)
    assert ["TM-0040", "TM-0043", "TM-0045"] == [reading.extras[f"label {n}"] for n in range(3)]
    assert ["1", "4", "6"] == [reading.extras[f"cell {n}"] for n in range(3)]
    assert tuple(f"STAMPREADER:{id}" for id in IDS) == reading.labels
    assert ("plate 1",) == reading.readers
    matched = match([Taken(reading, ("a", "b", "c"))])
    assert [("TM-0040", 0, "a"), ("TM-0043", 1, "b"), ("TM-0045", 2, "c")] == [
        (m.label, m.seen[0].number, m.seen[0].crop) for m in matched
    ]
    assert isinstance(matched[0].seen[0], Sighting)
    assert Decimal(27) == matched[0].seen[0].stamp.closed.kN


def test_a_connector_nobody_can_read_is_not_lost(laid):
    """An occupied cell without a stamp gives a blank one with the cell as its evidence."""
    photo, _ = laid((2,))
    cells = read_sheet(photo)
    reading = read_cells(photo, cells, _nothing)
    (stamp,) = reading.stamps
    assert (State.NONE, cells[1].quad) == (stamp.outcome, stamp.box)
    assert "TM-0041" == reading.extras["label 0"]
    assert "Cell 2: No stamp was found." in reading.notes


def test_a_cell_whose_code_is_covered_keeps_its_connector(laid):
    """Without its code the connector arrives without a label, and the note names the cell."""
    photo, _ = laid((3,))
    cells = read_sheet(photo)
    from dataclasses import replace

    blind = tuple(replace(cell, id=None) if cell.number == 3 else cell for cell in cells)
    reading = read_cells(photo, blind, _dark_plate)
    (matched,) = match([Taken(reading)])
    assert matched.label is None
    assert ("The code of cell 3 of the photo sheet could not be read.",) == matched.notes


def test_two_sheets_of_the_same_connectors_are_put_together(laid):
    """Front and back of the same connectors, two photos: one arrival each, with two photos."""
    photo, _ = laid((1, 2))
    reading = read_cells(photo, read_sheet(photo), _dark_plate)
    matched = match([Taken(reading), Taken(reading)])
    assert [("TM-0040", 2), ("TM-0041", 2)] == [(m.label, len(m.seen)) for m in matched]


def test_an_empty_sheet_says_so(laid):
    """Nothing laid on it: no stamp, and a note."""
    photo, _ = laid(())
    reading = read_cells(photo, read_sheet(photo), _dark_plate)
    assert () == reading.stamps
    assert ("The photo sheet is empty.",) == reading.notes


def test_walk_reads_a_sheet_cell_by_cell(laid):
    """The ordinary way of reading a photo knows the sheet: a reader sees cells, not printed text."""
    from stampreader.reading import read_photo

    class Looking:
        """A reader that remembers the size of what it was shown."""

        name, version = "looking", "1"

        def __init__(self):
            self.sizes = []

        def read_glyphs(self, photo, faces):
            self.sizes.append(photo.size)
            return ()

    photo, _ = laid((2, 5))
    reader = Looking()
    reading = read_photo(photo, (reader,), lambda _photo: ())
    assert 2 == len(reader.sizes)
    assert all(size[0] < photo.size[0] for size in reader.sizes)
    assert ["TM-0041", "TM-0044"] == [reading.extras["label 0"], reading.extras["label 1"]]

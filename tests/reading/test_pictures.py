"""Evidence crops and the drawn picture: upright, in colour, legible, of any photo."""

import cv2
import numpy as np
import pytest
from seen_glyphs import MARKS, STAMP, Seeing

from stampreader.errors import UsageError
from stampreader.figures import Caps
from stampreader.photo import photo_from_pixels
from stampreader.reading import evidence_crop, read_photo, sketch
from stampreader.reading.plates import Plates, text_band
from stampreader.reading.sketch import COLOURS, LONG_PX, SHORT_PX
from stampreader.spine import face_along
from stampreader.words import Slot, Stamp


def decoded(data):
    """Pixels of a file, BGR."""
    return cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)


def two_halves(turn_deg):
    """A red left half and a blue right half, turned, and the box round them."""
    ground = np.full((800, 800, 3), 128, np.uint8)
    ground[350:450, 250:400] = (0, 0, 255)
    ground[350:450, 400:550] = (255, 0, 0)
    turn = cv2.getRotationMatrix2D((400, 400), -turn_deg, 1)
    turned = cv2.warpAffine(ground, turn, (800, 800), borderValue=(128, 128, 128))
    return photo_from_pixels(turned), face_along((400, 400), 300, 100, turn_deg)


@pytest.mark.parametrize("turn_deg", [0, 45, 90, 180, 300])
def test_crop_reads_from_left_to_right(turn_deg):
    """However the stamp lies in the photo, its crop begins at the left, with space around."""
    photo, box = two_halves(turn_deg)
    crop = decoded(evidence_crop(photo, Stamp(angle_deg=turn_deg, box=box)))
    rows, columns = crop.shape[:2]
    assert abs(170 - rows) < 4 and abs(370 - columns) < 4
    left, right = crop[rows // 2, columns // 4], crop[rows // 2, 3 * columns // 4]
    assert left[2] > 200 > 60 > left[0]
    assert right[0] > 200 > 60 > right[2]
    assert abs(int(crop[4, 4, 0]) - 128) < 20


@pytest.mark.parametrize("side", [3, 5000])
def test_crop_of_tiny_and_huge_stamps(side):
    """A crop is never larger than 900 pixels, and a tiny one is enlarged to be seen."""
    photo = photo_from_pixels(np.full((100, 100, 3), 90, np.uint8))
    box = face_along((50, 50), side, side / 3, 0)
    crop = decoded(evidence_crop(photo, Stamp(box=box)))
    assert 118 <= max(crop.shape) <= 902


def test_crop_without_a_box_is_the_photo():
    """A stamp without a place is shown by the whole photo."""
    photo = photo_from_pixels(np.full((1500, 3000, 3), 90, np.uint8))
    assert (450, 900, 3) == decoded(evidence_crop(photo, Stamp())).shape


def stamped(size):
    """A reading on a photo of some size, its glyphs scaled to it."""
    from dataclasses import replace

    k = size[0] / 1200
    glyphs = [
        replace(g, x=g.x * k, y=g.y * k, height_px=g.height_px * k, width_px=g.width_px * k)
        for g in STAMP + MARKS
    ]
    photo = photo_from_pixels(np.full((*size[::-1], 3), 128, np.uint8), "bench/one.jpg")
    readers = [Seeing(glyphs, "one"), Seeing(glyphs, "two")]
    return photo, read_photo(photo, readers, lambda _: (), Caps(min_glyph_px=0))


@pytest.mark.parametrize("size", [(300, 225), (1200, 900), (6000, 4500)])
def test_sketch_at_any_resolution(size):
    """Small photos are enlarged and large ones made smaller; each figure shows in its colour."""
    photo, reading = stamped(size)
    drawn = decoded(sketch(photo, reading, ".png"))
    assert SHORT_PX <= max(drawn.shape[:2]) and drawn.shape[1] <= LONG_PX
    for slot in Slot:
        near = np.abs(drawn.astype(int) - COLOURS[slot]).max(axis=2) < 12
        assert near.sum() > 200
    assert (240 < drawn[-8:]).all()


def test_sketch_keeps_the_photo_as_it_is():
    """Drawing changes a copy."""
    photo, reading = stamped((1200, 900))
    before = photo.colour().copy()
    sketch(photo, reading)
    assert (before == photo.colour()).all()


def test_sketch_without_any_stamp():
    """A photo on which nothing was read still gives a picture that says so."""
    photo = photo_from_pixels(np.zeros((1, 1), np.uint8))
    reading = read_photo(photo, [Seeing()], lambda _: ())
    assert b"\xff\xd8" == sketch(photo, reading, ".JPG")[:2]


def test_sketch_as_another_kind():
    """Only JPEG and PNG are written."""
    photo, reading = stamped((300, 225))
    with pytest.raises(UsageError, match=r"cannot be written as \.pdf"):
        sketch(photo, reading, ".pdf")


def luminance(bgr):
    """Relative luminance (WCAG 2.1)."""
    parts = [c / 255 for c in bgr[::-1]]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("slot", Slot)
def test_words_on_plates_are_legible(slot):
    """White on each colour has at least 3:1, what WCAG 2.1 (1.4.3) asks of large bold text."""
    assert 1.05 / (luminance(COLOURS[slot]) + 0.05) >= 3.0


def test_long_lines_wrap():
    """A line longer than the picture is wide goes on in the next line."""
    one, wrapped = text_band(["short"], 600, 20), text_band(["many words " * 20], 600, 20)
    assert one.shape[1] == wrapped.shape[1] == 600
    assert wrapped.shape[0] > 3 * one.shape[0] / 2
    assert (wrapped[:, -8:] == 255).all()


def test_lines_of_plates_do_not_cross():
    """Three figures close below a row of marks, as on a crowded spine: each line goes its own way."""
    canvas = np.full((700, 1500, 3), 90, np.uint8)
    plates = Plates(canvas, 30)
    boxes = [(60, 300, 220, 350), (260, 290, 560, 340), (600, 280, 720, 330)]
    boxes += [(260, 345, 330, 395), (480, 335, 540, 385), (740, 320, 840, 370)]
    for number, (left, top, right, bottom) in enumerate(boxes):
        outline = np.array([(left, top), (right, top), (right, bottom), (left, bottom)], np.int32)
        plates.add(outline, f"a figure {number}", (60, 60, 60))
    plates.draw()
    drawn = np.zeros(canvas.shape[:2], np.uint8)
    for near, middle in plates.lines:
        one = np.zeros(canvas.shape[:2], np.uint8)
        cv2.line(one, near.round().astype(int).tolist(), middle.round().astype(int).tolist(), 1, 3)
        drawn += one
    assert (6, 1) == (len(plates.lines), drawn.max())

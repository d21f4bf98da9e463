"""Boxes land on the glyphs they were found at, on the crop and on the whole photo."""

import math

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stampreader.photo import photo_from_pixels
from stampreader.reading import evidence_crop, evidence_quad
from stampreader.spine import face_along
from stampreader.web.overlay import OUTSIDE, crop_drawing, photo_drawing
from stampreader.words import Figure, Mark, Stamp, State

RED = (40, 40, 230)


def corners(box):
    """Points of a drawn box, brought back to what it surrounds."""
    points = np.array([[float(n) for n in pair.split(",")] for pair in box.points.split()])
    away = points - points.mean(axis=0)
    reach = np.linalg.norm(away, axis=1, keepdims=True)
    return points - away * OUTSIDE / reach


def stamp_at(angle_deg, centre=(400.0, 300.0)):
    """A stamp with one small figure box somewhere in it, tilted."""
    outline = face_along(centre, 300, 90, angle_deg)
    turn = math.radians(angle_deg)
    off = (60.0, -15.0)
    middle = (
        centre[0] + off[0] * math.cos(turn) - off[1] * math.sin(turn),
        centre[1] + off[0] * math.sin(turn) + off[1] * math.cos(turn),
    )
    box = face_along(middle, 50, 26, angle_deg)
    figure = Figure(None, State.ASK, 0.5, box)
    return Stamp(closed=figure, angle_deg=angle_deg % 360, box=outline), box


@pytest.mark.parametrize("angle_deg", [0, 17, 90, 133, 180, 271, 345])
def test_a_box_on_the_crop_covers_what_it_covers_on_the_photo(angle_deg):
    """Pixels painted red inside the figure's box are just those inside the drawn box."""
    stamp, box = stamp_at(angle_deg)
    pixels = np.full((600, 800, 3), 128, np.uint8)
    cv2.fillConvexPoly(pixels, np.array(box, np.float32).round().astype(np.int32), RED)
    data = evidence_crop(photo_from_pixels(pixels), stamp)
    crop = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    drawing = crop_drawing(stamp, evidence_quad(stamp))
    high, wide = crop.shape[:2]
    assert pytest.approx(wide / high, rel=0.01) == drawing.width / drawing.height
    scale = wide / drawing.width
    inside = np.zeros((high, wide), np.uint8)
    cv2.fillConvexPoly(inside, (corners(drawing.boxes[0]) * scale).round().astype(np.int32), 1)
    red = (crop[:, :, 2].astype(int) - crop[:, :, 0]) > 90
    both = np.logical_and(inside, red).sum()
    assert both / np.logical_or(inside, red).sum() > 0.85


def test_boxes_on_the_whole_photo_keep_their_place():
    """On the whole photo a box stands where it was found, to scale."""
    stamp, box = stamp_at(0)
    drawing = photo_drawing(stamp, (800, 600))
    assert (1000.0, 750.0) == (drawing.width, drawing.height)
    np.testing.assert_allclose(np.array(box) * 1.25, corners(drawing.boxes[0]), atol=1.0)


def test_figures_and_marks_are_drawn_and_told_apart():
    """A box for every figure and mark that has one; what has none is left out."""
    box = face_along((100, 100), 20, 10, 0)
    stamp = Stamp(
        closed=Figure(None, State.ASK, 0.5, box),
        open=Figure(None, State.NONE, 0.0, None),
        marks=(Mark("CE 9123", 0.9, box), Mark("UIAA", 0.9, None)),
        box=face_along((100, 100), 100, 40, 0),
    )
    drawing = crop_drawing(stamp, evidence_quad(stamp))
    assert [("mark", "CE 9123"), ("closed", "?")] == [(b.kind, b.text) for b in drawing.boxes]


@settings(max_examples=60, deadline=None)
@given(st.floats(0, 360), st.floats(20, 900), st.floats(8, 300))
def test_the_outline_of_a_stamp_lies_inside_its_crop(angle_deg, length, height):
    """Whatever its direction and shape, a stamp lies inside the crop with space all round."""
    box = face_along((1000.0, 1000.0), length, height, angle_deg)
    stamp = Stamp(closed=Figure(None, State.ASK, 0.5, box), angle_deg=angle_deg % 360, box=box)
    drawing = crop_drawing(stamp, evidence_quad(stamp))
    found = corners(drawing.boxes[0])
    assert found.min() > 0
    assert found[:, 0].max() < drawing.width and found[:, 1].max() < drawing.height

"""Strips along a line's curve, and the sequence read from them."""

import math

import cv2
import numpy as np
import pytest

from stampreader.photo import load_photo
from stampreader.reader.alphabet import CLASSES, INDEX
from stampreader.reader.line import CAP_PX, STRIDE, TALL, LineReader, course_of, cut_strip, decode
from stampreader.spine import Face, face_along


def arc(radius, sweep_deg, count, turn_deg=0.0):
    """Centres of characters on an arc, with the face that holds them."""
    a = np.radians(np.linspace(-sweep_deg / 2, sweep_deg / 2, count))
    points = np.stack([radius * np.sin(a), radius * (1 - np.cos(a))], 1)
    t = math.radians(turn_deg)
    points = points @ np.array([[math.cos(t), math.sin(t)], [-math.sin(t), math.cos(t)]]) + 400
    middle = points.mean(0)
    quad = face_along((float(middle[0]), float(middle[1])), 360, 60, turn_deg)
    return points, Face(quad, turn_deg % 360, 28.0, 1.0, True, tuple(map(tuple, points)))


@pytest.mark.parametrize("turn_deg", [0.0, 35.0, 180.0, 271.0])
def test_a_strip_follows_the_curve(turn_deg):
    """Dots drawn on an arc of any direction come to lie on the middle row of the strip."""
    points, face = arc(500, 34, 9, turn_deg)
    photo = np.zeros((800, 800), np.uint8)
    for x, y in points:
        cv2.circle(photo, (round(x * 8), round(y * 8)), 24, 255, -1, cv2.LINE_AA, 3)
    strip = cut_strip(photo, course_of(face)).astype(float)
    rows = np.arange(TALL)[:, None]
    assert pytest.approx((TALL - 1) / 2, abs=1.0) == float((strip * rows).sum() / strip.sum())
    spread = np.sqrt(float((strip * (rows - (TALL - 1) / 2) ** 2).sum() / strip.sum()))
    assert spread < 2.6  # the dots themselves have a radius of 3 pixels


def test_a_line_read_the_other_way_is_the_same_line_turned():
    """The strip of the reversed course is the strip turned by 180 degrees."""
    rng = np.random.default_rng(3)
    photo = cv2.GaussianBlur(rng.integers(0, 255, (800, 800)).astype(np.uint8), (0, 0), 4)
    course = course_of(arc(600, 30, 9, 20.0)[1])
    one, other = cut_strip(photo, course), cut_strip(photo, course.reversed())
    assert one.shape == other.shape
    assert float(np.abs(one.astype(int) - other[::-1, ::-1].astype(int)).mean()) < 2.0


def scores(*runs):
    """(classes + 1, steps) scores for runs of (class name or '', steps)."""
    rows = []
    for name, steps in runs:
        row = np.zeros(len(CLASSES) + 1, np.float32)
        row[INDEX[name] + 1 if name else 0] = 10
        rows += [row] * steps
    return np.array(rows).T


def test_decoding_joins_runs_and_parts_doubles():
    """Repeated steps are one character; a blank between them makes two (Graves et al. 2006)."""
    letters = decode(scores(("2", 3), ("2", 1), ("", 2), ("2", 1), ("K", 2), ("", 1)))
    assert "22K" == "".join(CLASSES[letter.kind] for letter in letters)


def test_nothing_outside_the_photo():
    """A face that lies off the photo gives a grey strip, not an error."""
    face = Face(face_along((5000, 5000), 200, 50, 0), 0.0, 28.0, 1.0)
    assert (TALL, 200) == cut_strip(np.zeros((50, 50), np.uint8), course_of(face)).shape


@pytest.fixture
def grey_photo(tmp_path):
    """An even grey photo of 200 by 120 pixels."""
    cv2.imwrite(str(tmp_path / "grey.png"), np.full((120, 200), 90, np.uint8))
    return load_photo(tmp_path / "grey.png")


class Fixed:
    """An engine that answers every strip alike and counts."""

    def __init__(self, raw):
        self.raw, self.asked = raw, 0

    def run(self, x):
        """The fixed answer."""
        assert (1, 2, TALL) == x.shape[:3]
        self.asked += 1
        return self.raw[None]


def test_glyphs_stand_where_they_were_read(grey_photo):
    """Step n of the sequence is n strides along the line."""
    engine = Fixed(scores(("", 4), ("9", 1), ("", 40)))
    face = Face(face_along((100, 60), 160, 48, 0), 0.0, CAP_PX, 1.0, True)
    (glyph,) = LineReader(engine).read_glyphs(grey_photo, (face,))
    assert "9" == glyph.char
    assert pytest.approx(20 + 4.5 * STRIDE, abs=1.0) == glyph.x
    assert pytest.approx(60, abs=0.5) == glyph.y
    assert 1 == engine.asked


def test_an_undirected_line_is_read_both_ways(grey_photo):
    """Where the direction is open both are tried."""
    engine = Fixed(scores(("", 4), ("9", 1), ("", 40)))
    face = Face(face_along((100, 60), 160, 48, 0), 0.0, CAP_PX, 1.0, False)
    LineReader(engine).read_glyphs(grey_photo, (face,))
    assert 2 == engine.asked

"""Finding written places and laying them out straight."""

import cv2
import numpy as np
import pytest

from stampreader.photo import photo_from_pixels
from stampreader.spine import Face, face_along, find_faces, quad_angle, quad_size, straighten
from stampreader.spine.straighten import to_photo


def written(text="27 kN 8 7", turn_deg=0.0, ink=50, paper=180):
    """A picture of 1200 × 900 with one line of text, and the centre of that line."""
    ground = np.full((900, 1200), paper, np.uint8)
    cv2.putText(ground, text, (420, 460), cv2.FONT_HERSHEY_SIMPLEX, 2.0, ink, 4)
    turn = cv2.getRotationMatrix2D((600, 450), -turn_deg, 1.0)
    return cv2.warpAffine(ground, turn, (1200, 900), borderValue=paper)


def test_face_along_worked_example():
    """A rectangle 4 × 2 round (10, 10) at angle 0; turned by 90 degrees its text runs downwards."""
    assert ((8, 9), (12, 9), (12, 11), (8, 11)) == face_along((10, 10), 4, 2, 0)
    assert np.allclose([(11, 8), (11, 12), (9, 12), (9, 8)], face_along((10, 10), 4, 2, 90))


@pytest.mark.parametrize("angle_deg", [0, 17, 90, 180, 271, 359])
def test_quad_measures(angle_deg):
    """Size and angle of a quadrilateral are those it was made with."""
    quad = face_along((100, 50), 40, 10, angle_deg)
    assert np.allclose((40, 10), quad_size(quad))
    assert abs((quad_angle(quad) - angle_deg + 180) % 360 - 180) < 1e-6


@pytest.mark.parametrize("turn_deg", [0, 30, 90, 145, 200, 300])
@pytest.mark.parametrize("ink, paper", [(50, 180), (220, 90)], ids=["dark", "bright"])
def test_one_line_found(turn_deg, ink, paper):
    """A line of text is one face, along its axis, with the height of its characters."""
    found = find_faces(photo_from_pixels(written(turn_deg=turn_deg, ink=ink, paper=paper)))
    assert 1 == len(found)
    face = found[0]
    assert abs((face.angle_deg - turn_deg + 90) % 180 - 90) < 4
    assert 35 < face.glyph_px < 60
    assert not face.directed


@pytest.mark.parametrize("turn_deg", [0, 65, 180, 250])
def test_straighten_gives_the_text_upright(turn_deg):
    """The strip of a turned line equals the strip of the same line not turned."""
    quad = face_along((600, 440), 420, 90, 0)
    turn = cv2.getRotationMatrix2D((600, 450), -turn_deg, 1.0)
    turned = cv2.transform(np.array([quad]), turn)[0]
    expected = straighten(written(), quad, 90)
    strip = straighten(written(turn_deg=turn_deg), tuple(map(tuple, turned)), 90)
    assert (90, 420) == expected.shape == strip.shape
    assert np.uint8 == strip.dtype
    assert np.abs(expected.astype(float) - strip).mean() < 3


def test_straighten_keeps_colour_and_takes_photos():
    """Colour pixels give a colour strip; a photo gives its grey."""
    colour = np.dstack([written()] * 3)
    quad = face_along((600, 440), 400, 100, 0)
    assert (50, 200, 3) == straighten(colour, quad, 50).shape
    assert (50, 200) == straighten(photo_from_pixels(colour), quad, 50).shape


def test_making_smaller_does_not_flicker():
    """A fine pattern made ten times smaller comes out as its mean, not as stripes."""
    stripes = np.tile(np.array([0, 255], np.uint8), (400, 400))
    strip = straighten(stripes, face_along((400, 200), 700, 300, 0), 30)
    assert abs(127.5 - strip.mean()) < 3 and strip.std() < 20


def test_points_go_back_to_the_photo():
    """The corners of the strip are the corners of the quadrilateral."""
    quad = face_along((300, 200), 200, 40, 33)
    back = to_photo(quad, 80)
    corners = cv2.perspectiveTransform(np.array([[(0.0, 0.0), (400.0, 0.0), (400.0, 80.0)]]), back)
    assert np.allclose(quad[:3], corners[0], atol=1e-3)


@pytest.mark.parametrize("size", [(1, 1), (20000, 200), (300, 300)])
@pytest.mark.parametrize("ground", ["black", "white"])
def test_plain_pictures_have_no_face(size, ground):
    """Nothing is found where nothing is written, whatever the size."""
    pixels = np.full(size[::-1], 0 if ground == "black" else 255, np.uint8)
    assert () == find_faces(photo_from_pixels(pixels))


def test_noise_gives_few_faces_with_honest_quads():
    """On noise the number of faces stays bounded and every quadrilateral is finite."""
    noise = np.random.default_rng(2).integers(0, 256, (900, 1200), np.uint8)
    found = find_faces(photo_from_pixels(noise))
    assert len(found) <= 12
    assert all(isinstance(f, Face) and np.isfinite(f.quad).all() for f in found)


def test_two_connectors_are_two_faces():
    """Two lines far apart and turned differently are two faces."""
    both = np.minimum(written(turn_deg=0), np.roll(written(turn_deg=90), 330, axis=1))
    cv2.line(both, (0, 700), (1199, 720), 60, 3)
    found = find_faces(photo_from_pixels(both))
    axes = sorted(round(f.angle_deg % 180 / 90) % 2 for f in found)
    assert [0, 1] == axes

"""Relief from shading, against height fields shaded by Lambert's law with lamps we know."""

import cv2
import numpy as np
import pytest
from worn_face import HIGH_PX, height_field, shaded

from stampreader.relief import combine, lamps_of
from stampreader.relief.frame import whole_frame
from stampreader.relief.maps import as_slopes, heights

LAMPS = (10.0, 70.0, 130.0, 190.0, 250.0, 310.0)


def likeness(a, b):
    """How alike two pictures are, whatever their sign and contrast: absolute correlation."""
    return abs(float(np.corrcoef(a.ravel(), b.ravel())[0, 1]))


def fine(values):
    """What is smaller than a character, away from the rim."""
    values = values.astype(np.float32)
    return (values - cv2.GaussianBlur(values, (0, 0), 0.45 * HIGH_PX))[40:-40, 40:-40]


@pytest.fixture(scope="module")
def face():
    """A height field and its shots by six lamps."""
    height = height_field()
    return height, np.stack([shaded(height, a, seed=n) for n, a in enumerate(LAMPS)])


def test_relief_is_the_height_field(face):
    """The relief map follows the true heights far better than any single shot does."""
    height, shots = face
    found = combine(shots, HIGH_PX, np.ones(height.shape, np.float32))
    alone = max(likeness(fine(shot), fine(height)) for shot in shots)
    together = likeness(fine(found.height), fine(height))
    assert together > 0.8
    assert alone < 0.5


def test_shapes_and_kinds(face):
    """Maps have the frame's shape in uint8; a light for every shot."""
    height, shots = face
    found = combine(shots, HIGH_PX, np.ones(height.shape, np.float32))
    assert (height.shape, np.uint8) == (found.height.shape, found.height.dtype)
    assert (height.shape, np.uint8) == (found.reflectance.shape, found.reflectance.dtype)
    assert (6, 2) == found.lights.shape
    assert found.share > 0.8


def test_lights_are_where_the_lamps_were(face):
    """The direction of each lamp is found to 15 degrees, but for a common turn of 180."""
    height, shots = face
    found = combine(shots, HIGH_PX, np.ones(height.shape, np.float32))
    angles = np.degrees(np.arctan2(found.lights[:, 1], found.lights[:, 0]))
    off = (angles - np.array(LAMPS) + 180) % 360 - 180
    other = (off + 180 + 180) % 360 - 180
    assert min(np.abs(off).max(), np.abs(other).max()) < 15


def test_the_round_spine_tells_the_side():
    """On a rod the bright band lies on the lamp's side, and so the sign is known."""
    rows = np.linspace(-1, 1, 420)[:, None] * 0.9
    rod = (np.sqrt(1 - rows**2) * 230).astype(np.float32)
    height = height_field() + rod
    shots = np.stack([shaded(height, a, seed=n) for n, a in enumerate(LAMPS)])
    found = combine(shots, HIGH_PX, np.ones(height.shape, np.float32))
    lamps = lamps_of(found.lights, shots, whole_frame((900, 420)))
    assert all(lamp.known for lamp in lamps)
    off = [(lamp.angle_deg - a + 180) % 360 - 180 for lamp, a in zip(lamps, LAMPS, strict=True)]
    assert np.median(np.abs(off)) < 25


def test_a_laser_mark_shows_in_the_reflectance_not_in_the_relief():
    """A mark without height, darker under every lamp, stays in the reflectance map alone."""
    mask = np.zeros((420, 900), np.uint8)
    cv2.putText(mask, "27 KN 8", (140, 230), cv2.FONT_HERSHEY_SIMPLEX, 2.0, 255, 6, cv2.LINE_AA)
    dark = 1 - 0.4 * mask.astype(np.float32) / 255
    height = height_field("", seed=3)
    shots = np.stack(
        [(shaded(height, a, seed=n) * dark).astype(np.uint8) for n, a in enumerate(LAMPS)]
    )
    found = combine(shots, HIGH_PX, np.ones(height.shape, np.float32))
    mark = fine(mask)
    assert likeness(fine(found.reflectance), mark) > 0.6
    assert likeness(fine(found.height), mark) < 0.2


def test_slopes_belong_to_one_surface():
    """Of two mixed slopes of a known surface the true ones come back, up to a factor."""
    height = cv2.GaussianBlur(height_field(seed=5), (0, 0), 2.0)
    q, p = (s.astype(np.float32) for s in np.gradient(height))
    mixed = np.stack([0.8 * p + 0.6 * q, -0.3 * p + 0.9 * q])
    first, second = as_slopes(mixed, np.ones(height.shape, np.float32))
    assert likeness(first, p) > 0.98
    assert likeness(second, q) > 0.98


def test_heights_are_the_sum_of_slopes():
    """Frankot and Chellappa: slopes of a known bump give the bump back."""
    y, x = np.mgrid[-60:60, -100:100].astype(np.float32)
    bump = np.exp(-(x**2 + y**2) / 200)
    q, p = (s.astype(np.float32) for s in np.gradient(bump))
    assert likeness(heights(p, q, 200.0), bump) > 0.98

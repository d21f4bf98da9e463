"""Places from the finder's maps: invented maps whose places are known."""

import numpy as np
import pytest

from stampreader.reader.search import CELL, MOST, group_spots

WHOLE = np.ones(2, np.float32)


def maps(*patches, size=(90, 120)):
    """(4, h, w) maps, hot in patches of (row, column, rows, columns, degrees, firmness[, heat])."""
    out = np.zeros((4, *size), np.float32)
    out[0] = -8.0
    for y, x, tall, wide, degrees, firmness, *heat in patches:
        part = (slice(y, y + tall), slice(x, x + wide))
        out[0][part] = heat[0] if heat else 4.0
        out[1][part] = np.log(20 / CELL)
        out[2][part] = firmness * np.cos(2 * np.radians(degrees))
        out[3][part] = firmness * np.sin(2 * np.radians(degrees))
    return out


@pytest.mark.parametrize("degrees", [0.0, 30.0, 90.0, 140.0])
def test_a_place_has_the_direction_and_height_of_its_spots(degrees):
    """Height 20 pixels on the copy, direction as the maps say it, either way round."""
    (face,) = group_spots(maps((40, 50, 6, 6, degrees, 1.0)), WHOLE)
    assert face.glyph_px == pytest.approx(20, rel=1e-3)
    assert (face.angle_deg - degrees + 90) % 180 == pytest.approx(90, abs=0.1)
    x, y = np.mean(face.quad, 0)
    assert (x, y) == pytest.approx((53 * CELL, 43 * CELL), abs=1)


def test_a_smaller_copy_is_scaled_back():
    """On a copy of a quarter of the size, heights and places are four times as large."""
    (face,) = group_spots(maps((40, 50, 6, 6, 0.0, 1.0)), WHOLE / 4)
    assert face.glyph_px == pytest.approx(80, rel=1e-3)
    assert np.mean(face.quad, 0) == pytest.approx((4 * 53 * CELL, 4 * 43 * CELL), abs=4)


def test_a_place_whose_direction_wavers_is_left_out():
    """Grain and gravel are warm without a direction; writing has one."""
    written, grain = (10, 10, 3, 20, 0.0, 1.0), (60, 60, 3, 4, 45.0, 0.6, 1.3)
    (face,) = group_spots(maps(written, grain), WHOLE)
    assert np.mean(face.quad, 0)[1] < 30 * CELL


def test_much_hot_writing_needs_no_firm_direction():
    """Lines set across the spine beside one along it make the network waver, and are read."""
    (face,) = group_spots(maps((60, 60, 12, 12, 45.0, 0.5)), WHOLE)
    assert face.score > 0.9


def test_lines_across_each_other_are_two_places():
    """What stands across the line beside it is another line."""
    faces = group_spots(maps((40, 10, 3, 20, 0.0, 1.0), (40, 31, 3, 6, 90.0, 1.0)), WHOLE)
    assert [0, 90] == sorted(round(f.angle_deg) % 180 for f in faces)


def test_nothing_hot_is_no_place():
    """An empty map gives none; one of many places the most written ones."""
    assert () == group_spots(maps(), WHOLE)
    many = [(y, x, 3, 4, 0.0, 1.0) for y in range(2, 80, 12) for x in range(2, 110, 18)]
    assert MOST == len(group_spots(maps(*many), WHOLE))

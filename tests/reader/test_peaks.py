"""The detector's maps to glyph candidates: plain arithmetic, checked by hand."""

import numpy as np
import pytest

from stampreader.reader.alphabet import CLASSES, INDEX, ROLES, fold
from stampreader.reader.peaks import CELL, UNIT_PX, find_peaks

CHANNELS = 1 + len(CLASSES) + len(ROLES) + 6


def maps(*glyphs):
    """Raw maps with one sharp glyph for each (name, cell x, cell y, height, degrees, role)."""
    raw = np.zeros((1, CHANNELS, 24, 32), np.float32)
    raw[0, 0] = -9
    for name, x, y, height, degrees, role in glyphs:
        cell = raw[0, :, y, x]
        cell[0] = 4
        cell[1 + INDEX[name]] = 12
        cell[1 + len(CLASSES) + ROLES.index(role)] = 9
        cell[-4:-2] = np.log(height / UNIT_PX), np.log(height * 0.6 / UNIT_PX)
        cell[-2:] = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return raw


def test_one_glyph_where_it_stands():
    """Centre, size, direction, class and role come out as they were put in."""
    (peaks,) = [find_peaks(maps(("7", 10, 5, 24.0, 90.0, "cross")))]
    assert len(peaks) == 1
    assert pytest.approx([(10.5) * CELL - 0.5, (5.5) * CELL - 0.5]) == peaks.place[0].tolist()
    assert pytest.approx(24.0, rel=1e-4) == float(peaks.size[0, 0])
    assert pytest.approx([0.0, 1.0], abs=1e-6) == peaks.way[0].tolist()
    assert "7" == CLASSES[int(peaks.kinds[0].argmax())]
    assert "cross" == ROLES[int(peaks.roles[0].argmax())]


def test_two_peaks_on_one_glyph_are_one():
    """Two cells of a 40 px glyph are no two glyphs."""
    assert 1 == len(
        find_peaks(maps(("8", 10, 5, 40.0, 0.0, "none"), ("3", 12, 5, 40.0, 0.0, "none")))
    )


def test_neighbours_of_a_number_stay_two():
    """Digits of 16 px, 12 px apart, are two glyphs."""
    assert 2 == len(
        find_peaks(maps(("2", 10, 5, 16.0, 0.0, "closed"), ("7", 13, 5, 16.0, 0.0, "closed")))
    )


def test_nothing_where_nothing_is():
    """Cold maps give no glyph."""
    assert 0 == len(find_peaks(maps()))


@pytest.mark.parametrize(
    ("char", "wanted"), [("k", "K"), (",", "."), ("g", "g"), ("o", "O"), ("(", None)]
)
def test_folding(char, wanted):
    """Letters that differ only in size share a class; unknown ones have none."""
    assert wanted == fold(char)

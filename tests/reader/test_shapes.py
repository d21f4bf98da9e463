"""Pictograms by outline: what is taken for one, what is left out."""

import cv2
import numpy as np
import pytest
from drawn_stamps import INK, pictogram

from stampreader.reader.shapes import find_pictograms


def strip(draw):
    """A white strip 120 × 500 on which something is drawn."""
    ground = np.full((120, 500), 250, np.uint8)
    draw(ground)
    return ground


@pytest.mark.parametrize("kind", ["closed", "cross", "open"])
def test_each_kind(kind):
    """A connector outline with its arrows is told apart by where they stand, and by its gap."""
    (sign,) = find_pictograms(strip(lambda g: pictogram(g, kind, 200, 60, 40)), 40)
    assert f"<{kind}>" == sign.char
    assert abs(240 - sign.x) < 4 and abs(60 - sign.y) < 4
    assert sign.confidence < 0.8


NOT_PICTOGRAMS = {
    "a zero": lambda g: cv2.putText(g, "0", (200, 80), cv2.FONT_HERSHEY_SIMPLEX, 1.8, INK, 4),
    "figures": lambda g: cv2.putText(g, "27 86", (100, 80), cv2.FONT_HERSHEY_SIMPLEX, 1.8, INK, 4),
    "an outline without arrows": lambda g: cv2.ellipse(
        g, (240, 60), (40, 20), 0, 0, 360, INK, 4, cv2.LINE_AA
    ),
    "a bar": lambda g: cv2.rectangle(g, (200, 50), (290, 70), INK, -1),
    "nothing": lambda g: None,
}


@pytest.mark.parametrize("name", NOT_PICTOGRAMS)
def test_what_is_no_pictogram(name):
    """Characters, bars and bare outlines are left out."""
    assert () == find_pictograms(strip(NOT_PICTOGRAMS[name]), 40)


def test_tiny_strip():
    """A strip too small to hold anything gives nothing."""
    assert () == find_pictograms(np.zeros((1, 1), np.uint8), 40)

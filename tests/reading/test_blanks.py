"""Pictures without a stamp, read with every reader installed: nothing is ever called sure."""

import cv2
import numpy as np
import pytest

from stampreader.photo import photo_from_pixels
from stampreader.reading import default_desk
from stampreader.reading.walk import read_with
from stampreader.words import State

RNG = np.random.default_rng(8)


def ruler():
    """Marks and numbers of a ruler."""
    ground = np.full((400, 1600), 215, np.uint8)
    for n in range(75):
        cv2.line(ground, (40 + 20 * n, 60), (40 + 20 * n, 120 + 40 * (n % 5 == 0)), 40, 2)
        if n % 5 == 0:
            place = (28 + 20 * n, 210)
            cv2.putText(ground, str(n // 5), place, cv2.FONT_HERSHEY_SIMPLEX, 1.0, 40, 2)
    return ground


def page():
    """A page of printed words and numbers."""
    ground = np.full((1400, 1000), 240, np.uint8)
    for n in range(26):
        text = "In 2004 the 9 of them took 27 days and 8 nights"[n % 9 :]
        cv2.putText(ground, text, (60, 80 + 50 * n), cv2.FONT_HERSHEY_SIMPLEX, 0.9, 30, 2)
    return ground


def keyboard():
    """Keys with digits and letters."""
    ground = np.full((500, 1200), 60, np.uint8)
    for n, char in enumerate("1234567890QWERTYUIOPASDFGHJKL"):
        x, y = 40 + 110 * (n % 10), 40 + 130 * (n // 10)
        cv2.rectangle(ground, (x, y), (x + 95, y + 110), 30, -1)
        cv2.putText(ground, char, (x + 25, y + 75), cv2.FONT_HERSHEY_SIMPLEX, 1.8, 230, 3)
    return ground


def coin():
    """A round thing with a number and a rim."""
    ground = np.full((900, 900), 90, np.uint8)
    cv2.circle(ground, (450, 450), 380, 190, -1, cv2.LINE_AA)
    cv2.circle(ground, (450, 450), 350, 140, 6, cv2.LINE_AA)
    cv2.putText(ground, "10", (300, 530), cv2.FONT_HERSHEY_SIMPLEX, 7.0, 110, 20)
    return ground


def padlock():
    """A face-on padlock: a bow over a body with a number."""
    ground = np.full((1000, 800), 200, np.uint8)
    cv2.ellipse(ground, (400, 420), (180, 260), 0, 180, 360, 90, 50, cv2.LINE_AA)
    cv2.rectangle(ground, (170, 420), (630, 860), 120, -1)
    cv2.putText(ground, "40", (320, 720), cv2.FONT_HERSHEY_SIMPLEX, 3.0, 60, 6)
    return ground


PICTURES = {
    "1 × 1": lambda: np.zeros((1, 1), np.uint8),
    "20000 × 200": lambda: RNG.integers(60, 190, (200, 20000), np.uint8),
    "200 × 20000": lambda: RNG.integers(60, 190, (20000, 200), np.uint8),
    "all black": lambda: np.zeros((1500, 2000), np.uint8),
    "all white": lambda: np.full((1500, 2000), 255, np.uint8),
    "noise": lambda: RNG.integers(0, 256, (450, 600), np.uint8),
    "soft noise": lambda: cv2.GaussianBlur(RNG.integers(0, 256, (450, 600), np.uint8), (0, 0), 4),
    "page": page,
    "ruler": ruler,
    "keyboard": keyboard,
    "coin": coin,
    "padlock": padlock,
}


@pytest.fixture(scope="module")
def desk():
    """Every reader that is installed."""
    return default_desk()


@pytest.mark.parametrize("name", PICTURES)
def test_nothing_is_sure(desk, name):
    """No figure of a picture without a stamp is sure, and no picture stops the reading."""
    reading = read_with(desk, photo_from_pixels(PICTURES[name]()))
    figures = [f for s in reading.stamps for f in (s.closed, s.cross, s.open)]
    assert State.SURE not in {figure.state for figure in figures}
    assert State.SURE is not reading.outcome

"""QR labels: found at any size and turn, told apart from noise, never more than data."""

import io

import cv2
import numpy as np
import pytest
import segno

from stampreader.photo import photo_from_pixels, read_labels


def code(text, side_px):
    """A QR code drawn by the segno library, with its quiet zone, `side_px` wide."""
    buffer = io.BytesIO()
    segno.make_qr(text).save(buffer, kind="png", scale=10, border=4)
    drawn = cv2.imdecode(np.frombuffer(buffer.getvalue(), np.uint8), cv2.IMREAD_GRAYSCALE)
    return cv2.resize(drawn, (side_px, side_px), interpolation=cv2.INTER_AREA)


def bench(width=4000, height=3000):
    """A grey, speckled ground."""
    noise = np.random.default_rng(5).integers(0, 80, (height, width), np.uint8)
    return cv2.GaussianBlur(noise, (0, 0), 2) + 90


@pytest.mark.parametrize("side_px", [300, 600, 1200])
@pytest.mark.parametrize("turn_deg", [0, 33, 90, 200])
def test_one_label(side_px, turn_deg):
    """A label is read at any turn, from a tenth of the photo's width upwards."""
    ground = bench()
    turn = cv2.getRotationMatrix2D((side_px / 2, side_px / 2), turn_deg, 1.0)
    turn[:, 2] += (1500, 1000)
    cv2.warpAffine(
        code("SR-0042", side_px),
        turn,
        (4000, 3000),
        dst=ground,
        borderMode=cv2.BORDER_TRANSPARENT,
    )
    (label,) = read_labels(photo_from_pixels(ground))
    assert "SR-0042" == label.text
    centre = np.mean(label.quad, axis=0)
    assert np.allclose((1500 + side_px / 2, 1000 + side_px / 2), centre, atol=side_px / 10)


def test_several_labels_left_to_right():
    """Several labels come from left to right; the same text twice counts once."""
    ground = bench()
    for text, x in (("SR-0002", 2600), ("SR-0001", 300), ("SR-0002", 1500)):
        ground[800:1200, x : x + 400] = code(text, 400)
    assert ["SR-0001", "SR-0002"] == [
        label.text for label in read_labels(photo_from_pixels(ground))
    ]


def test_hostile_text_is_printable_and_short():
    """Control characters are dropped and a long text is cut."""
    ground = bench(1600, 1200)
    ground[100:1000, 100:1000] = code("../../x\x1b[2J\n" + "A" * 400, 900)
    (label,) = read_labels(photo_from_pixels(ground))
    assert label.text.isprintable() and len(label.text) <= 300
    assert label.text.startswith("../../x[2JA")


@pytest.mark.parametrize("size", [(1, 1), (20000, 200), (640, 480)])
@pytest.mark.parametrize("ground", ["black", "white", "noise"])
def test_no_label(size, ground):
    """Plain and noisy pictures of any size have no label."""
    shape = (size[1], size[0])
    pixels = {
        "black": np.zeros(shape, np.uint8),
        "white": np.full(shape, 255, np.uint8),
        "noise": np.random.default_rng(1).integers(0, 256, shape, np.uint8),
    }[ground]
    assert () == read_labels(photo_from_pixels(pixels))

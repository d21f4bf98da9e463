"""What the networks are shown: the same from OpenCV here as from PyTorch in training."""

import numpy as np
import pytest
from scipy.ndimage import uniform_filter

from stampreader.reader.prepare import AROUND, CALM, STRONGEST, prepare


def test_a_faint_mark_stands_out_like_a_strong_one():
    """The second channel hardly changes when the contrast falls to a third."""
    rng = np.random.default_rng(2)
    strong = np.clip(128 + rng.normal(0, 30, (120, 160)), 0, 255).astype(np.uint8)
    faint = (128 + (strong.astype(float) - 128) / 3).round().astype(np.uint8)
    a, b = prepare(strong)[0], prepare(faint)[0]
    assert abs(a[0].std() / b[0].std() - 3) < 0.1
    assert abs(a[1].std() / b[1].std() - 1) < 0.3


def test_against_scipy():
    """Mean and spread of the surroundings are those of SciPy's uniform filter."""
    grey = np.random.default_rng(3).integers(0, 256, (90, 130)).astype(np.uint8)
    level = grey.astype(np.float64) * 4 / 255 - 2
    mean = uniform_filter(level, AROUND, mode="nearest")
    spread = np.sqrt(uniform_filter(level**2, AROUND, mode="nearest") - mean**2)
    wanted = np.clip((level - mean) / (spread + CALM), -STRONGEST, STRONGEST)
    got = prepare(grey)
    assert (1, 2, 90, 130) == got.shape
    assert np.abs(got[0, 0] - level).max() < 1e-5
    assert np.abs(got[0, 1] - wanted).max() < 1e-3


@pytest.mark.parametrize("value", [0, 128, 255])
def test_a_flat_picture_stays_flat(value):
    """Where nothing is, nothing is made of it."""
    assert np.abs(prepare(np.full((40, 40), value, np.uint8))[0, 1]).max() < 0.05

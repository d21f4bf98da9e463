"""The directory's own modules can be imported by its tests, and by worker processes."""

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture
def photo():
    """A grey photo of 1200 × 900."""
    from seen_glyphs import grey_photo

    return grey_photo()

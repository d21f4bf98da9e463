"""Tests of the real Tesseract program run unless the environment says that there is none."""

import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))


def pytest_collection_modifyitems(config, items):
    """With STAMPREADER_NO_TESSERACT=1 tests of the real program are left out, and counted so."""
    if os.environ.get("STAMPREADER_NO_TESSERACT") != "1":
        return
    without = [item for item in items if item.get_closest_marker("tesseract")]
    items[:] = [item for item in items if not item.get_closest_marker("tesseract")]
    config.hook.pytest_deselected(items=without)

"""Makes the simulator importable and gives tests a short way to write stamps down."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

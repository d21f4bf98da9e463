"""Faces and light small enough for tests, without a download."""

import pytest
import torch

from stampreader.train import banks, faces
from stampreader.train.dice import Shader
from stampreader.train.draw import TILE


@pytest.fixture(scope="module")
def baked():
    """The Hershey strokes alone: enough for tests, no download."""
    strokes = {name: faces.stroke_face(name) for name in faces.STROKE_SETS}
    names = {"outline": ["futural"], "stroke": sorted(strokes)}
    outline = {"futural": {c: (a, s) for c, (a, s) in strokes["futural"].items()}}
    return {"outline": outline, "stroke": strokes, "names": names}


@pytest.fixture(scope="module")
def shader():
    """A shader with small banks on the CPU."""
    lit = {k: torch.from_numpy(v) for k, v in banks.build(3, 16).items()}
    return Shader(lit, (TILE, TILE), torch.Generator().manual_seed(3), torch.device("cpu"))

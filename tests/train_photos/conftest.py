"""Block letters standing in for the baked faces, so that no font file is needed."""

from __future__ import annotations

import os
from collections.abc import Iterator

import numpy as np
import pytest

from stampreader.train.photos import faces
from stampreader.train.photos.bake import ALPHABET, face_list


@pytest.fixture(autouse=True, scope="session")
def block_letters(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Every face draws every character as an upright frame, cap height 1."""
    outer = np.array([[0, 0], [0.6, 0], [0.6, 1], [0, 1]])
    inner = np.array([[0.15, 0.15], [0.15, 0.85], [0.45, 0.85], [0.45, 0.15]])
    arrays = {}
    for face in face_list():
        for char in ALPHABET:
            key = f"{face['package'].split('/')[-1]}|{face['weight']}|{ord(char)}"
            arrays[key + "|s"] = np.array([0.75, 4, 4], np.float32)
            arrays[key + "|p"] = np.concatenate([outer, inner, [[0, 0]]]).astype(np.float16)
    path = tmp_path_factory.mktemp("faces") / "faces.npz"
    np.savez_compressed(path, **arrays)
    before = os.environ.get("STAMPREADER_FACES")
    os.environ["STAMPREADER_FACES"] = str(path)
    faces._baked.cache_clear()
    yield
    faces._baked.cache_clear()
    if before is None:
        del os.environ["STAMPREADER_FACES"]
    else:
        os.environ["STAMPREADER_FACES"] = before

"""Scenes made in a process of their own, a few ahead of the tracer."""

from __future__ import annotations

import os
import time
from pathlib import Path

import numpy as np

from stampreader.train import surroundings
from stampreader.train.draw import load_faces
from stampreader.train.traced import scene

AHEAD = 24
"""Scenes that may lie waiting."""


def supply(
    faces_at: Path, probes_at: Path | None, folder: Path, numbers: list[int], seed: int
) -> None:
    """Make the scenes of these numbers, a few ahead of the tracer."""
    faces = load_faces(faces_at)
    probes = surroundings.load(probes_at) if probes_at else []
    rng = np.random.default_rng((seed, numbers[0] if numbers else 0))
    cloths = scene.some_cloths(rng)
    for number in numbers:
        while len(list(folder.glob("*.npz"))) >= AHEAD:
            time.sleep(0.1)
        rng = np.random.default_rng((seed, 1, number))
        part = folder / f"{number}.tmp"
        with part.open("wb") as file:
            scene.save(file, *scene.make_scene(rng, faces, probes, cloths))
        os.replace(part, folder / f"{seed}-{number}.npz")

"""Faces as outlines: which face belongs to which set, and text drawn into a mask."""

from __future__ import annotations

import os
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from . import GROUP
from .bake import face_list

Contours = list[np.ndarray]
STROKE = frozenset({"anonymous-pro", "lekton", "nova-mono"})  # thin faces, fattened a little


def faces_path() -> Path:
    """The baked outlines: `STAMPREADER_FACES`, else `.fonts/faces.npz` in the working folder."""
    return Path(os.environ.get("STAMPREADER_FACES", ".fonts/faces.npz"))


@cache
def _baked() -> dict[str, np.ndarray]:
    with np.load(faces_path()) as archive:
        return dict(archive)


def names(kind: str) -> list[str]:
    """Faces (`slug|weight`) a kind of set may use: the shared ones and its own."""
    group = GROUP.get(kind, kind)
    return [
        f"{f['package'].split('/')[-1]}|{f['weight']}"
        for f in face_list()
        if f["group"] in ("shared", group)
    ]


def own_names(kind: str) -> list[str]:
    """Faces (`slug|weight`) that no other kind of set uses."""
    group = GROUP.get(kind, kind)
    return [
        f"{f['package'].split('/')[-1]}|{f['weight']}" for f in face_list() if f["group"] == group
    ]


@dataclass(frozen=True)
class Face:
    """One face; outlines in cap heights, baseline at 0, y upwards."""

    name: str

    def has(self, char: str) -> bool:
        """Whether the face draws this character."""
        return f"{self.name}|{ord(char)}|s" in _baked()

    def outline(self, char: str) -> tuple[Contours, float]:
        """Closed polylines and the advance of a character, in cap heights."""
        sizes = _baked()[f"{self.name}|{ord(char)}|s"]
        points = _baked()[f"{self.name}|{ord(char)}|p"].astype(np.float32)[:-1]
        cuts = np.cumsum(sizes[1:-1].astype(int)) if len(sizes) > 2 else []
        return (np.split(points, cuts) if len(sizes) > 1 else []), float(sizes[0])

"""Bakes the outlines of the open faces once, so that rendering needs no font files.

`python -m stampreader.train.photos.bake NODE_MODULES --out .fonts/faces.npz` reads the packages
listed in `faces.json` (fetch them with npm) and writes flattened outlines, cap height 1.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import numpy as np

ALPHABET = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789kgbflst./:-+,()·"
STEPS = 10  # points a curve is flattened to


def face_list() -> list[dict[str, str]]:
    """The committed list of faces: package, version, licence, weight, group."""
    return json.loads(Path(__file__).with_name("faces.json").read_text())["faces"]


def flatten(recording: list) -> list[np.ndarray]:
    """Pen recording to closed polylines."""
    contours: list[np.ndarray] = []
    points: list[tuple[float, float]] = []
    t = np.linspace(0, 1, STEPS + 1)[1:, None]
    for name, args in recording:
        if name == "moveTo":
            points = [args[0]]
        elif name == "lineTo":
            points.append(args[0])
        elif name in ("qCurveTo", "curveTo"):
            if args[-1] is None:  # a contour without on-curve points starts half-way
                start = tuple((np.array(args[-2], float) + args[0]) / 2)
                points, args = [start], (*args[:-1], start)
            points.extend(map(tuple, _curve(np.array(points[-1]), args, name, t)))
        elif name in ("closePath", "endPath") and len(points) > 2:
            contours.append(np.array(points, np.float32))
    return contours


def _curve(start: np.ndarray, args: tuple, name: str, t: np.ndarray) -> np.ndarray:
    pts = [np.array(a, float) for a in args]
    if name == "curveTo":
        a, b, c = pts
        return start * (1 - t) ** 3 + 3 * a * t * (1 - t) ** 2 + 3 * b * t**2 * (1 - t) + c * t**3
    out, here = [], start
    for i in range(len(pts) - 1):
        last = i == len(pts) - 2
        end = pts[-1] if last else (pts[i] + pts[i + 1]) / 2
        out.append(here * (1 - t) ** 2 + 2 * pts[i] * t * (1 - t) + end * t**2)
        here = end
    return np.concatenate(out) if out else pts[-1][None]


def outlines(path: Path) -> dict[str, tuple[list[np.ndarray], float]]:
    """Character to (contours, advance), scaled to cap height 1, baseline 0."""
    from fontTools.pens.recordingPen import DecomposingRecordingPen
    from fontTools.ttLib import TTFont

    font = TTFont(path)
    glyphs, cmap = font.getGlyphSet(), font.getBestCmap()
    raw = {}
    for char in ALPHABET:
        if ord(char) in cmap:
            pen = DecomposingRecordingPen(glyphs)
            glyphs[cmap[ord(char)]].draw(pen)
            raw[char] = (flatten(pen.value), float(glyphs[cmap[ord(char)]].width))
    cap = max(c[:, 1].max() for c in raw["H"][0])
    return {k: ([c / cap for c in cs], adv / cap) for k, (cs, adv) in raw.items()}


def bake(modules: Path, out: Path) -> int:
    """Write the outlines of all listed faces; returns how many."""
    arrays: dict[str, np.ndarray] = {}
    for face in face_list():
        slug, weight = face["package"].split("/")[-1], face["weight"]
        file = modules / "@fontsource" / slug / "files" / f"{slug}-latin-{weight}-normal.woff2"
        for char, (contours, advance) in outlines(file).items():
            key = f"{slug}|{weight}|{ord(char)}"
            sizes = np.array([advance, *[len(c) for c in contours]], np.float32)
            arrays[key + "|s"] = sizes
            arrays[key + "|p"] = np.concatenate([*contours, np.zeros((1, 2))]).astype(np.float16)
    out.parent.mkdir(parents=True, exist_ok=True)
    np.savez_compressed(out, **arrays)
    return len(face_list())


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("modules", type=Path)
    parser.add_argument("--out", type=Path, default=Path(".fonts/faces.npz"))
    chosen = parser.parse_args()
    print(bake(chosen.modules, chosen.out), "faces baked to", chosen.out)

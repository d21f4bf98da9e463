"""Faces for the training stamps: outlines from font packages, strokes from the Hershey set.

    python -m stampreader.train.faces --cache DIR --out faces.pkl.xz [--truetype FILE ...]

`--cache` is filled by `npm pack @fontsource/NAME` for every name in `faces.json`; the command does
that itself. The result is a small pickle of polygons, so that a machine without a network can
train. Licences stand in `faces.json` beside each name.
"""

from __future__ import annotations

import argparse
import io
import json
import lzma
import pickle
import subprocess
import tarfile
from pathlib import Path
from typing import Any

import numpy as np

CHARS = "0123456789.,/:-+()ABCDEFGHIJKLMNOPQRSTUVWXYZkabdefghilmnqrtcopsuvwxyzj"
LIST = Path(__file__).with_name("faces.json")
WEIGHTS = ("400", "700")
STROKE_SETS = ("futural", "futuram", "rowmans", "rowmand")
STEPS = 6  # straight pieces a curve is flattened into

Contour = np.ndarray  # (P, 2) float32, cap height 1, baseline y = 0, y upwards
Face = dict[str, tuple[float, list[Contour]]]  # char → (advance, contours)


def list_faces() -> dict[str, list[dict[str, str]]]:
    """The committed list: `npm` packages and `debian` packages with licence."""
    found: dict[str, list[dict[str, str]]] = json.loads(LIST.read_text())
    return found


def fetch(names: list[str], cache: Path) -> list[Path]:
    """Download the packages that the cache lacks; returns the archives."""
    cache.mkdir(parents=True, exist_ok=True)
    for name in names:
        if not list(cache.glob(f"fontsource-{name}-[0-9]*.tgz")):
            subprocess.run(
                ["npm", "pack", "--silent", f"@fontsource/{name}"], cwd=cache, check=True,
                stdout=subprocess.DEVNULL,
            )  # fmt: skip
    return [next(iter(sorted(cache.glob(f"fontsource-{n}-[0-9]*.tgz")))) for n in names]


def _flatten(recording: list[tuple[str, Any]]) -> list[Contour]:
    """Pen commands → closed contours of straight pieces."""
    contours: list[Contour] = []
    points: list[tuple[float, float]] = []
    t = np.linspace(0, 1, STEPS + 1)[1:, None]
    for kind, args in recording:
        if kind == "moveTo":
            points = [args[0]]
        elif kind == "lineTo":
            points.append(args[0])
        elif kind == "curveTo":
            p0, p1, p2, p3 = (np.asarray(p, float) for p in (points[-1], *args[-3:]))
            curve = (
                (1 - t) ** 3 * p0 + 3 * (1 - t) ** 2 * t * p1 + 3 * (1 - t) * t**2 * p2 + t**3 * p3
            )
            points.extend(map(tuple, curve))
        elif kind == "qCurveTo":
            controls = [np.asarray(p, float) for p in args if p is not None]
            if args[-1] is None:  # a closed TrueType contour without a point on the curve
                points = [tuple((controls[-1] + controls[0]) / 2)]
                controls.append(np.asarray(points[0]))
            for i, control in enumerate(controls[:-1]):
                last = i == len(controls) - 2
                end = controls[-1] if last else (control + controls[i + 1]) / 2
                start = np.asarray(points[-1], float)
                curve = (1 - t) ** 2 * start + 2 * (1 - t) * t * control + t**2 * end
                points.extend(map(tuple, curve))
        elif kind in ("closePath", "endPath") and len(points) > 2:
            contours.append(np.asarray(points, np.float32))
    return contours


def outline_face(data: bytes | Path) -> Face | None:
    """Outlines of one font file, scaled to cap height 1; `None` when letters are missing."""
    from fontTools.pens.recordingPen import DecomposingRecordingPen
    from fontTools.ttLib import TTFont

    font = TTFont(io.BytesIO(data) if isinstance(data, bytes) else str(data))
    glyphs, cmap = font.getGlyphSet(), font.getBestCmap()
    face: Face = {}
    cap = 1.0
    for char in "H" + CHARS:
        if ord(char) not in cmap:
            continue
        pen = DecomposingRecordingPen(glyphs)
        glyphs[cmap[ord(char)]].draw(pen)
        contours = _flatten(pen.value)
        if char == "H" and contours:
            cap = max(float(np.concatenate(contours)[:, 1].max()), 1.0)
        face[char] = (glyphs[cmap[ord(char)]].width / cap, [c / cap for c in contours])
    return face if all(c in face and face[c][1] for c in "0123456789HNK") else None


def stroke_face(name: str) -> Face:
    """One of the Hershey sets as open strokes (`Hershey-Fonts` package, MIT)."""
    from HersheyFonts import HersheyFonts

    pen = HersheyFonts()
    pen.load_default_font(name)
    tall = np.concatenate([np.asarray(s, float) for s in pen.strokes_for_text("H")])
    foot, cap = tall[:, 1].max(), float(np.ptp(tall[:, 1]))  # the set's y runs downwards
    face: Face = {}
    for char in CHARS:
        strokes = [np.asarray(s, np.float32) for s in pen.strokes_for_text(char)]
        if strokes:
            every = np.concatenate(strokes)
            left, wide = every[:, 0].min(), float(np.ptp(every[:, 0]))
            face[char] = (
                wide / cap + 0.28,
                [
                    ((s - [left, foot]) * [1, -1] / cap + [0.14, 0]).astype(np.float32)
                    for s in strokes
                ],
            )
    return face


def bake(cache: Path, truetype: list[Path]) -> dict[str, Any]:
    """All faces: `outline` name → Face, `stroke` name → Face."""
    outline: dict[str, Face] = {}
    for name, archive in zip(
        names := [f["name"] for f in list_faces()["npm"]], fetch(names, cache), strict=True
    ):
        with tarfile.open(archive) as tar:
            members = {m.name: m for m in tar.getmembers()}
            for weight in WEIGHTS:
                member = members.get(f"package/files/{name}-latin-{weight}-normal.woff2")
                stream = tar.extractfile(member) if member else None
                if stream and (face := outline_face(stream.read())):
                    outline[f"{name}-{weight}"] = face
    for path in truetype:
        if face := outline_face(path):
            outline[path.stem] = face
    return {"outline": outline, "stroke": {n: stroke_face(n) for n in STROKE_SETS}}


def main() -> None:
    """Bake the committed list of faces into one pickle."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("--cache", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--truetype", type=Path, nargs="*", default=[])
    args = parser.parse_args()
    faces = bake(args.cache, args.truetype)
    args.out.write_bytes(lzma.compress(pickle.dumps(faces)))
    print(f"{len(faces['outline'])} outline faces, {len(faces['stroke'])} stroke faces")


if __name__ == "__main__":
    main()

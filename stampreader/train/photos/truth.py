"""Exact truth of a picture, and how hard it is, measured on the finished picture.

Difficulty is decided from quantities anyone can check (see `grade`), never by a reader's success.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np

from .camera import Camera
from .connector import Plan, SurfaceGlyph
from .layout import Strip
from .shot import Scene

SLOTS = ("closed", "cross", "open")

# (hard, medium) bounds of each measured quantity; the picture's grade is its worst one, and three
# mediums make a hard one. Own choice: common practice, no source.
BOUNDS = {
    "glyph_px": (15.0, 24.0),  # height of a capital of the figures, pixels (smaller is harder)
    "edge": (1.5, 2.4),  # gradient on the glyphs' edges against that between them
    "tilt_deg": (38.0, 28.0),  # between view and the stamped face (larger is harder)
    "glare": (0.3, 0.1),  # share of the metal round them burnt out
    "wear": (0.5, 0.3),  # depth lost
}
UNREADABLE_EDGE = 1.12
UNREADABLE_PX = 7.0


def quad(points: np.ndarray) -> list[list[float]]:
    """Corners rounded to a tenth of a pixel."""
    return [[round(float(x), 1), round(float(y), 1)] for x, y in points]


def glyph_records(glyphs: list[SurfaceGlyph], camera: Camera) -> list[dict[str, Any]]:
    """Class, role, box, capital height and reading direction of every glyph, in pixels."""
    out = []
    for g in glyphs:
        box = camera.project(g.corners)
        along = (box[1] + box[2] - box[0] - box[3]) / 2
        up = (box[0] + box[1] - box[3] - box[2]) / 2
        height = float(np.linalg.norm(up))
        tall = float(np.linalg.norm(g.corners[0] - g.corners[3]))
        out.append(
            {
                "char": g.char,
                "role": g.role if g.role in SLOTS else "",
                "box": quad(box),
                "cap_px": round(height * g.cap / max(tall, 1e-6), 2),
                "angle_deg": round(float(np.degrees(np.arctan2(along[1], along[0])) % 360), 2),
            }
        )
    return out


def _at(picture: np.ndarray, points: np.ndarray) -> np.ndarray:
    xy = points.astype(np.float32)[None]
    return cv2.remap(picture, xy[..., 0], xy[..., 1], cv2.INTER_LINEAR)[0]


def edge_ratio(grey: np.ndarray, glyphs: list[SurfaceGlyph], camera: Camera) -> float:
    """Mean gradient on the strokes' edges over the median one of bare metal, worst figure.

    Both are taken at a scale that goes with the height of the characters, so that grain finer
    than the strokes counts as little here as it does to the eye.
    """
    digits = [g for g in glyphs if g.role in SLOTS and not g.char.startswith("<")]
    if not digits:
        return 0.0
    cap = float(np.median([r["cap_px"] for r in glyph_records(digits, camera)]))
    soft = cv2.GaussianBlur(grey, (0, 0), max(0.9, 0.06 * cap))
    slope = cv2.magnitude(cv2.Sobel(soft, cv2.CV_32F, 1, 0), cv2.Sobel(soft, cv2.CV_32F, 0, 1))
    bare = np.concatenate([_at(slope, camera.project(g.off)) for g in glyphs])
    floor = float(np.median(bare)) + 1.0
    ratios = []
    for slot in SLOTS:
        on = [float(_at(slope, camera.project(g.on)).mean()) for g in digits if g.role == slot]
        ratios += [(float(np.mean(on)) + 1.0) / floor] if on else []
    return min(ratios)


def glare_share(grey: np.ndarray, glyphs: list[SurfaceGlyph], camera: Camera) -> float:
    """Share of the metal round the figures that is burnt out."""
    burnt = []
    for g in glyphs:
        if g.role in SLOTS:
            spots = camera.project(g.off)
            burnt.append(float((_at(grey, spots) >= 250).mean()))
    return float(np.mean(burnt)) if burnt else 0.0


def tilt_of(panel: np.ndarray, camera: Camera) -> float:
    """Angle between the view and the stamped face's normal, degrees."""
    normal = np.cross(panel[1] - panel[0], panel[3] - panel[0])
    view = camera.eye - panel.mean(0)
    cos = abs(normal @ view) / np.linalg.norm(normal) / np.linalg.norm(view)
    return float(np.degrees(np.arccos(np.clip(cos, 0, 1))))


def grade(measured: dict[str, float]) -> str:
    """easy, medium or hard from the measured quantities."""
    hard = medium = 0
    for name, (h, m) in BOUNDS.items():
        value = measured[name]
        sign = -1 if h < m else 1  # smaller values are harder where hard < medium
        if sign * value > sign * h:
            hard += 1
        elif sign * value > sign * m:
            medium += 1
    return "hard" if hard or medium >= 3 else "medium" if medium else "easy"


def measure(
    grey: np.ndarray, plan: Plan, glyphs: list[SurfaceGlyph], panel: np.ndarray, camera: Camera
) -> dict[str, float]:
    """The quantities the grade rests on."""
    caps = [r["cap_px"] for r in glyph_records(glyphs, camera) if r["role"]]
    return {
        "glyph_px": round(float(min(caps)) if caps else 0.0, 1),
        "edge": round(edge_ratio(grey, glyphs, camera), 2),
        "tilt_deg": round(tilt_of(panel, camera), 1),
        "glare": round(glare_share(grey, glyphs, camera), 3),
        "wear": round(max(plan.method.wear, plan.method.loss), 2),
    }


def why_unreadable(spoilt: str, measured: dict[str, float], stamped: bool) -> str:
    """Why no person could read the figures, or ''."""
    if spoilt:
        return spoilt
    if not stamped:
        return "blank"
    if measured["edge"] < UNREADABLE_EDGE:
        return "too faint"
    return "too small" if measured["glyph_px"] < UNREADABLE_PX else ""


def connector_truth(
    grey: np.ndarray,
    plan: Plan,
    glyphs: list[SurfaceGlyph],
    strip: Strip | None,
    panel: np.ndarray,
    camera: Camera,
    spoilt: str,
) -> dict[str, Any]:
    """Everything there is to know about one connector in a picture."""
    content = plan.content
    measured = measure(grey, plan, glyphs, panel, camera)
    why = why_unreadable(spoilt, measured, content is not None)
    record: dict[str, Any] = {f"{s}_kN": None for s in SLOTS}
    unit = content.unit if content else None
    figures = {}
    for slot in SLOTS:
        value = content.value(slot) if content else None
        if content is None or value is None:
            continue
        corners = np.concatenate(
            [g.corners for g in glyphs if g.role == slot and not g.char.startswith("<")]
        )
        figures[slot] = {
            "stamped": content.figures[slot],
            "unit": unit,
            "box": quad(cv2.boxPoints(cv2.minAreaRect(camera.project(corners).astype(np.float32)))),
        }
        if unit == "kN":
            record[f"{slot}_kN"] = float(value) if value % 1 else int(value)
    record.update(
        figures=figures,
        unit=unit,
        marks=strip.shown_marks if strip else [],
        letter=content.letter if content and strip and _has(strip, "letter") else None,
        extras=strip.shown_extras if strip else {},
        readable=not why,
        unreadable_because=why,
        difficulty=grade(measured) if not why else "unreadable",
        measured=measured,
        panel=quad(camera.project(panel)),
    )
    return {**record, **_making(plan)}


def _has(strip: Strip, role: str) -> bool:
    return any(g.role == role for g in strip.glyphs)


def _making(plan: Plan) -> dict[str, Any]:
    style = plan.style
    return {
        "class": plan.content.klass if plan.content else None,
        "method": plan.method.name,
        "shape": plan.form.kind,
        "section": plan.form.section,
        "gate": plan.form.gate,
        "finish": plan.finish.name,
        "face": plan.face.split("|")[0],
        "pictograms": plan.family if style and style.place != "none" else None,
        "layout": style.shape if style else None,
        "worn_degree": plan.worn_degree,
    }


def photo_truth(
    scene: Scene, which: int, grey: np.ndarray, name: str, quality: int
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Truth of one picture, and the boxes of its glyphs."""
    camera, shot = scene.cameras[which], scene.shot
    rows = zip(shot.connectors, scene.glyphs, scene.strips, scene.panels, strict=True)
    connectors = [
        connector_truth(grey, plan, glyphs, strip, panel, camera, shot.spoilt)
        for plan, glyphs, strip, panel in rows
    ]
    first = connectors[0]
    order = ("easy", "medium", "hard", "unreadable")
    truth = {
        "photo": name,
        **{f"{s}_kN": first[f"{s}_kN"] for s in SLOTS},
        "marks": first["marks"],
        "method": first["method"],
        "difficulty": max((c["difficulty"] for c in connectors), key=order.index),
        "readable": all(c["readable"] for c in connectors),
        "connectors": connectors,
        "labels": [shot.label] if shot.label else [],
        "size": list(shot.size),
        "exif_orientation": shot.exif,
        "light": scene.notes["light"],
        "bench": scene.notes["bench"],
        "jpeg_quality": quality,
        "seed": list(shot.seed),
    }
    boxes = {"photo": name, "connectors": [glyph_records(g, camera) for g in scene.glyphs]}
    return truth, boxes

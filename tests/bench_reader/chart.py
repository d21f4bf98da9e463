"""The comparison as a picture: bars of figures and triples right, reader by reader."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from PIL import Image, ImageDraw, ImageFont

ROWS = (
    ("triple right", "readable", "all three figures right"),
    ("figure right", "figure", "figures right"),
)
INK, PALE, OWN, OTHER = "#1d2733", "#e7ebef", "#0b6e4f", "#8a97a5"
WIDTH, LEFT, BAR, TOP = 1100, 190, 30, 78


def draw(path: Path, counts: Mapping[str, Mapping[str, int]], photos: int) -> None:
    """Draw counts by reader, the first one being ours."""
    step = BAR * 2 + 34
    picture = Image.new("RGB", (WIDTH, TOP + step * len(counts) + 34), "white")
    pen = ImageDraw.Draw(picture)
    most = max(c["readable"] for c in counts.values())
    pen.text((24, 18), f"{photos} photos, {most} readable connectors", INK, _font(26))
    for row, (name, count) in enumerate(counts.items()):
        y = TOP + row * step
        pen.text((24, y + BAR - 12), name, INK, _font(24))
        for n, (part, whole, words) in enumerate(ROWS):
            share = count[part] / max(count[whole], 1)
            _bar(
                pen, y + n * BAR, share, f"{100 * share:.0f} %  {words}", OWN if row == 0 else OTHER
            )
    told = "General readers: four rotations, three scales, told where each stamp lies, numbers picked for them."
    pen.text((24, picture.height - 36), told, INK, _font(18))
    picture.quantize(32).save(path, optimize=True)


def _bar(pen: Any, y: int, share: float, words: str, colour: str) -> None:
    full = WIDTH - LEFT - 330
    pen.rectangle((LEFT, y + 2, LEFT + full, y + BAR - 4), PALE)
    if share:
        pen.rectangle((LEFT, y + 2, LEFT + round(full * share), y + BAR - 4), colour)
    pen.text((LEFT + full + 14, y + 2), words, INK, _font(20))


def _font(size: int) -> Any:
    return ImageFont.load_default(size)

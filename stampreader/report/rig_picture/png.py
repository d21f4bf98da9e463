"""Strokes as PNG, drawn twice as fine and made smaller, so that edges are smooth."""

from __future__ import annotations

import io
import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from typing import Any

from PIL import Image, ImageDraw, ImageFont

from stampreader.report.rig_picture.strokes import (
    PAPER,
    PT,
    Disc,
    Line,
    Spot,
    Stroke,
    Text,
    face_file,
)

DPI = 200
FINER = 2


def png_bytes(strokes: Iterable[Stroke], size: tuple[float, float]) -> bytes:
    """The page as a PNG file at 200 dots per inch."""
    scale = DPI * FINER / 25.4
    whole = (round(size[0] * scale), round(size[1] * scale))
    image = Image.new("RGB", whole, PAPER)
    pen = _Pen(image, scale)
    for stroke in strokes:
        pen.put(stroke)
    small = image.resize((whole[0] // FINER, whole[1] // FINER), Image.Resampling.BOX)
    file = io.BytesIO()
    small.save(file, "PNG", dpi=(DPI, DPI), optimize=True)
    return file.getvalue()


class _Pen:
    """Draws strokes on a large image."""

    def __init__(self, image: Image.Image, scale: float) -> None:
        self.image = image
        self.draw = ImageDraw.Draw(image)
        self.scale = scale
        self.faces: dict[tuple[float, bool], Any] = {}

    def put(self, stroke: Stroke) -> None:
        """Draw one stroke."""
        if isinstance(stroke, Line):
            self._line(stroke)
        elif isinstance(stroke, Disc):
            self._disc(stroke)
        else:
            self._text(stroke)

    def _line(self, line: Line) -> None:
        spots = [(x * self.scale, y * self.scale) for x, y in line.spots]
        if line.closed and line.fill is not None:
            self.draw.polygon(spots, fill=line.fill)
        if not line.width:
            return
        width = max(1, round(line.width * self.scale))
        path = [*spots, spots[0]] if line.closed else spots
        dash = [length * self.scale for length in line.dash]
        for piece in _dashes(path, dash) if dash else [path]:
            self.draw.line(piece, fill=line.colour, width=width, joint="curve")
            for x, y in (piece[0], piece[-1]):
                half = width / 2 - 0.5
                self.draw.ellipse((x - half, y - half, x + half, y + half), fill=line.colour)

    def _disc(self, disc: Disc) -> None:
        x, y = (part * self.scale for part in disc.at)
        outer = (disc.radius + disc.width / 2) * self.scale
        self.draw.ellipse(
            (x - outer, y - outer, x + outer, y + outer),
            fill=disc.fill,
            outline=disc.colour if disc.width else None,
            width=max(1, round(disc.width * self.scale)),
        )

    def _text(self, text: Text) -> None:
        face = self._face(text.size, text.bold)
        x, y = (part * self.scale for part in text.at)
        anchor = {"left": "ls", "middle": "ms", "right": "rs"}[text.align]
        if not text.turn_deg:
            self.draw.text((x, y), text.text, font=face, fill=text.colour, anchor=anchor)
            return
        self._turned(text, face, (x, y), anchor)

    def _turned(self, text: Text, face: Any, at: Spot, anchor: str) -> None:
        """Set a turned text through a mask."""
        reach = math.ceil(face.getlength(text.text)) + 2 * math.ceil(face.size)
        mask = Image.new("L", (2 * reach, 2 * reach), 0)
        ImageDraw.Draw(mask).text((reach, reach), text.text, font=face, fill=255, anchor=anchor)
        mask = mask.rotate(-text.turn_deg, Image.Resampling.BICUBIC)
        corner = (round(at[0]) - reach, round(at[1]) - reach)
        self.image.paste(text.colour, corner, mask)

    def _face(self, size: float, bold: bool) -> Any:
        if (size, bold) not in self.faces:
            pixels = size * PT * self.scale
            self.faces[size, bold] = ImageFont.truetype(str(face_file(bold)), pixels)
        return self.faces[size, bold]


def _dashes(path: Sequence[Spot], dash: Sequence[float]) -> Iterator[list[Spot]]:
    """The pieces of a path that are drawn."""
    index, left = 0, dash[0]
    piece = [path[0]]
    for a, b in pairwise(path):
        length = math.dist(a, b)
        done = 0.0
        while length - done > left:
            done += left
            spot = (a[0] + (b[0] - a[0]) * done / length, a[1] + (b[1] - a[1]) * done / length)
            if index % 2 == 0:
                yield [*piece, spot]
            piece = [spot]
            index += 1
            left = dash[index % len(dash)]
        left -= length - done
        piece.append(b)
    if index % 2 == 0 and len(piece) > 1:
        yield piece

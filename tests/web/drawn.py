"""Drawn photos of stamps with what was read on them, put straight into a register.

The drawings need no font of anybody: OpenCV's strokes on a plain grey band.
"""

import hashlib
import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import cv2
import numpy as np

from stampreader.photo import photo_from_pixels
from stampreader.reading import evidence_crop
from stampreader.register import Crop, add_arrival, keep_reading
from stampreader.words import Doubt, Figure, Mark, Reading, Sighting, Stamp, State

START = datetime(2025, 3, 1, 12, tzinfo=UTC)
FONT = cv2.FONT_HERSHEY_SIMPLEX
USUAL = {"closed": "27", "cross": "8", "open": "7"}
MARKS = ("CE 9123", "EN 362:2004/B")


class Clock:
    """A clock that goes on by a second at each look."""

    def __init__(self, start=START):
        self.time = start

    def __call__(self):
        """The next second."""
        self.time += timedelta(seconds=1)
        return self.time


def figure(told, box):
    """A figure from `"27"` (sure), `None`, or `("21", "ask", "ONE_READER")`."""
    if told is None:
        return Figure()
    value, state, *doubts = told if isinstance(told, tuple) else (told, "sure")
    kN = None if value is None else Decimal(value)
    confidence = {"sure": 0.99, "ask": 0.6, "none": 0.0}[state]
    named = tuple(Doubt[name] for name in doubts)
    return Figure(kN, State(state), confidence, box if kN is not None else None, named)


def photo_of(number, tilt_deg=0.0, size=(640, 480), marks=MARKS, **told):
    """Pixels of a photo, and the stamp as it would be read on it."""
    told = {**USUAL, **told}
    width, height = size
    rng = np.random.default_rng(number)
    turn = math.radians(tilt_deg)
    along, down = (math.cos(turn), math.sin(turn)), (-math.sin(turn), math.cos(turn))
    centre = (width / 2, height / 2)
    unit = width / 640

    def at(u, v):
        return (
            centre[0] + (u * along[0] + v * down[0]) * unit,
            centre[1] + (u * along[1] + v * down[1]) * unit,
        )

    def quad(left, top, right, bottom):
        return (at(left, top), at(right, top), at(right, bottom), at(left, bottom))

    canvas = np.full((height, width, 3), (58, 66, 70), np.uint8)
    flat = np.full((height, width, 3), (182, 180, 176), np.uint8)
    grain = rng.normal(0, 9, (1, width, 1)).repeat(height, 0)
    flat = np.clip(flat + grain, 0, 255).astype(np.uint8)
    mask = np.zeros((height, width), np.uint8)
    band = np.array(quad(-400, -78, 400, 78), np.int32)
    cv2.fillConvexPoly(mask, band, 255)
    lettered = _lettered(flat, told, unit, centre)
    back = cv2.getRotationMatrix2D(centre, -tilt_deg, 1)
    lettered = cv2.warpAffine(lettered, back, (width, height), borderMode=cv2.BORDER_REPLICATE)
    canvas[mask > 0] = lettered[mask > 0]
    cv2.putText(canvas, f"{number:03d}", (8, height - 12), FONT, 0.6, (150, 150, 150), 1)
    x = {"closed": -185, "cross": -25, "open": 135}
    boxes = {slot: quad(left - 6, -40, left + 92, 2) for slot, left in x.items()}
    read = Stamp(
        **{slot: figure(told[slot], boxes[slot]) for slot in x},
        marks=tuple(
            Mark(text, 0.95, quad(*((-190, 20, -48, 54), (0, 20, 215, 54))[n % 2]))
            for n, text in enumerate(marks)
        ),
        serial=told.get("serial"),
        angle_deg=tilt_deg % 360,
        box=quad(-250, -46, 230, 56),
    )
    if all(read.figure(slot).kN is None for slot in x) and not marks:
        read = replace(read, box=None)
    return canvas, read


def _lettered(flat, told, unit, centre):
    """The lines of the stamp, dark on the band, written straight."""

    def write(text, u, v, scale, thick):
        place = (round(centre[0] + u * unit), round(centre[1] + v * unit))
        for shift, shade in ((1, 225), (0, 52)):
            spot = (place[0] + shift, place[1] + shift)
            cv2.putText(flat, text, spot, FONT, scale * unit, (shade,) * 3, thick, cv2.LINE_AA)

    for slot, u in (("closed", -185), ("cross", -25), ("open", 135)):
        value = told[slot][0] if isinstance(told[slot], tuple) else told[slot]
        if value is not None:
            write(f"{value}kN", u, -6, 1.15, max(2, round(2 * unit)))
            _pictogram(flat, slot, (centre[0] + (u - 32) * unit, centre[1] - 20 * unit), unit)
    write("CE 9123", -185, 48, 0.85, max(1, round(2 * unit)))
    write("EN362:2004/B", 5, 48, 0.85, max(1, round(2 * unit)))
    return flat


def _pictogram(flat, slot, middle, unit):
    x, y = middle
    size = (round(20 * unit), round(9 * unit))
    ink, thick = (52, 52, 52), max(1, round(2 * unit))
    end = 300 if slot == "open" else 360
    cv2.ellipse(flat, (round(x), round(y)), size, 0, 0, end, ink, thick, cv2.LINE_AA)
    reach = (0, 17) if slot == "cross" else (27, 0)
    for sign in (-1, 1):
        tip = (round(x + sign * reach[0] * unit), round(y + sign * reach[1] * unit))
        near = (round(x + sign * reach[0] * unit * 0.75), round(y + sign * reach[1] * unit * 0.55))
        cv2.line(flat, near, tip, ink, thick, cv2.LINE_AA)


def jpeg(pixels):
    """Pixels as a JPEG file."""
    return cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, 90])[1].tobytes()


def arrive(register, clock, photos, number, *, delivery="Spring", label=None, tilt_deg=0.0, **told):
    """Take a photo, read it, and put it on the list; gives the arrival's key."""
    pixels, read = photo_of(number, tilt_deg, **told)
    data = jpeg(pixels)
    path = photos / f"{number:03d}.jpg"
    path.write_bytes(data)
    sha256 = hashlib.sha256(data).hexdigest()
    crop = Crop(sha256, 0, "image/jpeg", evidence_crop(photo_from_pixels(pixels), read))
    height, width = pixels.shape[:2]
    reading = Reading(str(path), sha256, (width, height), (read,), readers=("drawn 1",))
    keep_reading(register, reading, [crop], at=clock())
    seen = Sighting(sha256, 0, read, "drawn 1", crop.sha256, str(path))
    return add_arrival(register, delivery, [seen], at=clock(), label=label)


def deliver(register, photos, count, *, first=1, clock=None, **told):
    """Put equal connectors on the list, tilted a little each."""
    clock = clock or Clock()
    photos.mkdir(exist_ok=True)
    with register.writing():
        return [
            arrive(register, clock, photos, n, tilt_deg=(n * 37) % 60 - 30, **told)
            for n in range(first, first + count)
        ]

"""Worn faces made by arithmetic: a height field, Lambert's law, known lamps and known cameras."""

import cv2
import numpy as np

from stampreader.photo import photo_from_pixels
from stampreader.spine import Face

SIZE = (900, 420)
TEXT = "27 KN 8 KN 7"
HIGH_PX = 44.0
SPINE = (90, 330)
"""Rows of the metal; above and below lies the bench, with a colour of its own at every place."""
QUAD = ((120.0, 150.0), (780.0, 150.0), (780.0, 270.0), (120.0, 270.0))


def height_field(text=TEXT, seed=1, depth=1.2):
    """Grooves of a text in pixels of height, with small pits all over, `(H, W) float32`."""
    rng = np.random.default_rng(seed)
    mask = np.zeros((SIZE[1], SIZE[0]), np.uint8)
    cv2.putText(mask, text, (140, 230), cv2.FONT_HERSHEY_SIMPLEX, 2.0, 255, 6, cv2.LINE_AA)
    grooves = cv2.GaussianBlur(mask.astype(np.float32) / 255, (0, 0), 2.0)
    pits = cv2.GaussianBlur(rng.standard_normal(mask.shape).astype(np.float32), (0, 0), 2.5)
    return -depth * grooves + 0.2 * pits / pits.std()


def shaded(height, azimuth_deg, elevation_deg=30.0, noise=1.0, seed=0):
    """A shot by Lambert's law (1760): brightness is the cosine between normal and lamp.

    The lamp stands at `azimuth_deg`, 0 right, 90 bottom of the picture.
    """
    rows, columns = np.gradient(height.astype(np.float64))
    a, e = np.radians([azimuth_deg, elevation_deg])
    lamp = np.array([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)])
    up = np.sqrt(1 + rows**2 + columns**2)
    bright = np.maximum((-columns * lamp[0] - rows * lamp[1] + lamp[2]) / up, 0)
    grain = np.random.default_rng(seed).normal(0, noise, height.shape)
    return np.clip(30 + 190 * bright + grain, 0, 255).astype(np.uint8)


def on_a_bench(picture, seed=77):
    """A shot with the bench round the spine: spots that keep their place under every lamp."""
    spots = np.random.default_rng(seed).standard_normal(picture.shape).astype(np.float32)
    bench = cv2.GaussianBlur(spots, (0, 0), 3.0)
    out = picture.astype(np.float32)
    for rows in (slice(0, SPINE[0]), slice(SPINE[1], None)):
        out[rows] *= 0.7 + 0.2 * bench[rows] / bench.std()
    return np.clip(out, 0, 255).astype(np.uint8)


def camera(seed):
    """A small known move of a hand-held camera: a homography from the still picture to the shot."""
    rng = np.random.default_rng(seed)
    turn, grow = np.radians(rng.normal(0, 0.8)), 1 + rng.normal(0, 0.01)
    cos, sin = grow * np.cos(turn), grow * np.sin(turn)
    shift = rng.normal(0, 7, 2)
    tilt = rng.normal(0, 8e-6, 2)
    return np.array([[cos, -sin, shift[0]], [sin, cos, shift[1]], [tilt[0], tilt[1], 1.0]])


def shot(height, number, count=6, move=None, name=None):
    """One shot of a face: lamp round by `number` of `count`, camera moved; photo and homography."""
    picture = on_a_bench(shaded(height, 360 * number / count + 10, seed=number))
    matrix = np.eye(3) if move is None else move
    moved = cv2.warpPerspective(picture, matrix, SIZE, borderMode=cv2.BORDER_REFLECT)
    return photo_from_pixels(np.asarray(moved, np.uint8), name or f"shot-{number + 1}.jpg"), matrix


def stack(height, count=6):
    """A stack of shots with their homographies."""
    pairs = [shot(height, k, count, None if k == 0 else camera(k)) for k in range(count)]
    return [photo for photo, _ in pairs], [matrix for _, matrix in pairs]


def finder(photo):
    """A finder that knows where the text stands in a picture of the usual size."""
    if photo.size != SIZE:
        return ()
    return (Face(QUAD, 0.0, HIGH_PX, 0.9),)

"""Rooms full of light: environment pictures in latitude and longitude, z upwards."""

from __future__ import annotations

import cv2
import numpy as np

ROWS, COLS = 384, 768
WARM, COOL, DAY = np.array([1.0, 0.78, 0.55]), np.array([0.8, 0.9, 1.0]), np.array([0.9, 0.96, 1.0])


def _directions() -> np.ndarray:
    v = (np.arange(ROWS) + 0.5) / ROWS * np.pi
    u = (np.arange(COLS) + 0.5) / COLS * 2 * np.pi
    vv, uu = np.meshgrid(v, u, indexing="ij")
    return np.stack([np.sin(vv) * np.cos(uu), np.sin(vv) * np.sin(uu), np.cos(vv)], -1)


DIRECTIONS = _directions()


def unit(azimuth: float, height: float) -> np.ndarray:
    """Direction from azimuth and height above the horizon, degrees."""
    a, h = np.radians(azimuth), np.radians(height)
    return np.array([np.cos(h) * np.cos(a), np.cos(h) * np.sin(a), np.sin(h)])


def disc(towards: np.ndarray, degrees: float, soft: float = 0.3) -> np.ndarray:
    """Mask of a round light."""
    angle = np.degrees(np.arccos(np.clip(DIRECTIONS @ towards, -1, 1)))
    return np.clip((degrees - angle) / (degrees * soft) + 0.5, 0, 1)


def panel(
    towards: np.ndarray, wide: float, high: float, roll: float, soft: float = 1.5
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Mask of a rectangular light (degrees), with its own coordinates from -1 to 1."""
    side = np.cross(towards, [0.02, 0.01, 1.0])
    side /= np.linalg.norm(side)
    up = np.cross(side, towards)
    a = np.radians(roll)
    s2, u2 = side * np.cos(a) + up * np.sin(a), up * np.cos(a) - side * np.sin(a)
    depth = np.maximum(DIRECTIONS @ towards, 1e-3)
    x = np.degrees(np.arctan2(DIRECTIONS @ s2, depth))
    y = np.degrees(np.arctan2(DIRECTIONS @ u2, depth))
    mask = np.clip((wide / 2 - np.abs(x)) / soft, 0, 1) * np.clip(
        (high / 2 - np.abs(y)) / soft, 0, 1
    )
    return mask * (DIRECTIONS @ towards > 0.05), 2 * x / wide, 2 * y / high


def room(rng: np.random.Generator) -> np.ndarray:
    """Walls, ceiling, floor and furniture without their own light, (rows, cols, 3)."""
    z = DIRECTIONS[..., 2]
    walls, ceiling = (
        rng.uniform(0.08, 0.5, 3) * 0.3 + rng.uniform(0.05, 0.3),
        rng.uniform(0.15, 0.7),
    )
    floor = rng.uniform(0.02, 0.2)
    up = np.clip((z - 0.35) / 0.25, 0, 1)[..., None]
    down = np.clip((-z - 0.05) / 0.1, 0, 1)[..., None]
    picture = walls * (1 - up) * (1 - down) + ceiling * up + floor * down
    for _ in range(int(rng.integers(6, 18))):
        towards = unit(rng.uniform(0, 360), rng.uniform(-15, 40))
        mask, _, _ = panel(towards, rng.uniform(6, 45), rng.uniform(6, 60), rng.normal(0, 4))
        tone = rng.uniform(0.01, 0.55) * rng.uniform(0.7, 1.1, 3)
        picture = picture * (1 - mask[..., None]) + tone * mask[..., None]
    return picture.astype(np.float32)


def window(rng: np.random.Generator, towards: np.ndarray, power: float) -> np.ndarray:
    """A window with bars, sky above and things outside below."""
    mask, x, y = panel(towards, rng.uniform(18, 55), rng.uniform(22, 60), rng.normal(0, 3))
    bars = np.ones_like(mask)
    for k in np.linspace(-1, 1, int(rng.integers(2, 5)))[1:-1]:
        bars *= np.abs(x - k) > 0.05
    if rng.random() < 0.5:
        bars *= np.abs(y - rng.uniform(-0.3, 0.4)) > 0.05
    sky = 0.55 + 0.45 * np.clip(y + 0.6, 0, 1)
    return (mask * bars * sky * power)[..., None] * DAY * rng.uniform(0.92, 1.05, 3)


def lamp(
    rng: np.random.Generator, azimuth: float, height: float, size: float, power: float
) -> np.ndarray:
    """A bench lamp or torch; power is its share of the light, whatever its size."""
    tint = WARM if rng.random() < 0.5 else COOL
    strength = power * (14.0 / size) ** 2
    return (disc(unit(azimuth, height), size) * strength)[..., None] * tint


def softbox(rng: np.random.Generator, power: float) -> np.ndarray:
    """A ceiling panel or softbox."""
    towards = unit(rng.uniform(0, 360), rng.uniform(35, 85))
    mask, _, _ = panel(towards, rng.uniform(14, 60), rng.uniform(8, 30), rng.uniform(0, 180))
    return (mask * power)[..., None] * (COOL if rng.random() < 0.6 else WARM)


def photographer(rng: np.random.Generator, camera: np.ndarray) -> np.ndarray:
    """Mask of the dark shape of head, arms and phone around the camera."""
    mask, _, _ = panel(camera, rng.uniform(10, 20), rng.uniform(18, 34), rng.uniform(0, 180), 3)
    side = unit(rng.uniform(0, 360), rng.uniform(15, 45))
    head = disc(side * 0.5 + camera * 0.6, rng.uniform(14, 26), 0.5)
    return np.clip(mask + head, 0, 1)


STYLES = ("window", "lamp", "softboxes", "overcast", "sun", "workshop", "dim")


def invent_light(
    rng: np.random.Generator, camera: np.ndarray, lamp_at: tuple[float, float] | None = None
) -> tuple[np.ndarray, str]:
    """An environment picture and its name; `lamp_at` adds a lamp at (azimuth, height)."""
    style = STYLES[rng.integers(0, len(STYLES))] if lamp_at is None else "moved lamp"
    picture = room(rng)
    z = DIRECTIONS[..., 2:]
    if style == "window":
        for _ in range(int(rng.integers(1, 4))):
            towards = unit(rng.uniform(0, 360), rng.uniform(12, 45))
            picture = picture + window(rng, towards, rng.uniform(5, 14))
    elif style == "lamp":
        picture = picture * rng.uniform(0.4, 1) + lamp(
            rng, rng.uniform(0, 360), rng.uniform(25, 80), rng.uniform(4, 11), rng.uniform(12, 30)
        )
    elif style == "softboxes":
        for _ in range(int(rng.integers(1, 4))):
            picture = picture + softbox(rng, rng.uniform(4, 12))
    elif style == "overcast":
        sky = np.clip(z + 0.1, 0, 1) ** 0.5 * DAY * rng.uniform(1.5, 3)
        picture = picture * 0.4 + sky * rng.uniform(0.6, 1)
    elif style == "sun":
        picture = picture * 0.5 + np.clip(z, 0, 1) * DAY * rng.uniform(0.3, 1.0)
        sun = disc(unit(rng.uniform(0, 360), rng.uniform(20, 70)), 1.6, 0.6)
        picture = picture + (sun * rng.uniform(900, 2500))[..., None] * np.array([1, 0.95, 0.86])
    elif style == "workshop":
        for k in range(int(rng.integers(2, 5))):
            towards = unit(rng.uniform(0, 30) + 180 * (k % 2), rng.uniform(40, 85))
            mask, _, _ = panel(towards, rng.uniform(40, 80), rng.uniform(2.5, 5), rng.normal(0, 5))
            picture = picture + (mask * rng.uniform(9, 22))[..., None] * COOL
    elif style == "moved lamp":
        assert lamp_at is not None
        picture = picture * 0.5 + lamp(rng, *lamp_at, 6.0, 26.0)
    else:
        picture = picture * 0.5 + softbox(rng, rng.uniform(1, 3))
    dark = photographer(rng, camera)[..., None]
    picture = picture * (1 - dark) + 0.03 * dark
    picture = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), 0.8)
    return np.maximum(picture, 0.004), style


def as_envmap(picture: np.ndarray) -> np.ndarray:
    """The picture as the tracer's latitude-longitude map expects it (after turning y to z)."""
    return np.ascontiguousarray(picture, np.float32)

"""A phone's camera: where it stands, what it sees, and where points of the scene fall."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Camera:
    """A pinhole with a lens's aperture.

    Attributes:
        eye, target: mm. up: direction that is up in the picture.
        fov_deg: horizontal field of view. width, height: pixels.
        aperture: radius, mm. focus: distance to the sharp plane, mm.
    """

    eye: np.ndarray
    target: np.ndarray
    up: np.ndarray
    fov_deg: float
    width: int
    height: int
    aperture: float
    focus: float

    def axes(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Right, down and forward directions of the picture."""
        forward = self.target - self.eye
        forward = forward / np.linalg.norm(forward)
        right = np.cross(forward, self.up)
        right /= np.linalg.norm(right)
        return right, np.cross(forward, right), forward

    def project(self, points: np.ndarray) -> np.ndarray:
        """Points (n, 3) to pixels (n, 2), x to the right, y downwards."""
        right, down, forward = self.axes()
        rel = points - self.eye
        depth = rel @ forward
        k = self.width / 2 / np.tan(np.radians(self.fov_deg / 2))
        x = self.width / 2 + k * (rel @ right) / depth
        y = self.height / 2 + k * (rel @ down) / depth
        return np.stack([x, y], -1)

    def px_per_mm(self) -> float:
        """Pixels a millimetre at the sharp plane."""
        return self.width / 2 / np.tan(np.radians(self.fov_deg / 2)) / self.focus


def aim(
    target: np.ndarray,
    tilt: float,
    azimuth: float,
    roll: float,
    fov: float,
    span: float,
    size: tuple[int, int],
    aperture: float,
    defocus: float = 0.0,
) -> Camera:
    """A camera looking at `target` from above with `span` mm across the picture's width."""
    t, a, r = np.radians([tilt, azimuth, roll])
    towards = np.array([np.sin(t) * np.cos(a), np.sin(t) * np.sin(a), np.cos(t)])
    distance = span / 2 / np.tan(np.radians(fov / 2))
    side = np.array([-np.sin(a), np.cos(a), 0.0])
    up = np.cross(towards, side)
    up = np.cos(r) * up + np.sin(r) * side
    eye = target + towards * distance
    return Camera(eye, target, up, fov, size[0], size[1], aperture, distance + defocus)


def widened(camera: Camera, points: np.ndarray, margin: float) -> Camera:
    """The camera turned and moved back until all points lie within the picture's margin."""
    size = np.array([camera.width, camera.height])
    for _ in range(12):
        at = camera.project(points)
        low, high = at.min(0), at.max(0)
        edge = margin * min(size)
        if (low >= edge).all() and (high <= size - edge).all():
            return camera
        too_big = float(max((high - low) / (size - 2 * edge)))
        right, down, _ = camera.axes()
        off = ((low + high) / 2 - size / 2) / camera.px_per_mm()
        shift = right * off[0] + down * off[1]
        scale = max(1.0, 1.02 * too_big) if too_big > 0.95 else 1.0
        target = camera.target + shift
        eye = target + (camera.eye - camera.target) * scale
        change = float(np.linalg.norm(eye - target) - np.linalg.norm(camera.eye - camera.target))
        camera = Camera(
            eye, target, camera.up, camera.fov_deg, camera.width, camera.height,
            camera.aperture, camera.focus + change,
        )  # fmt: skip
    return camera

"""Meshes as numpy arrays with a colour, roughness and metalness at every vertex."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass
class Mesh:
    """A triangle mesh; seen from outside, faces run anticlockwise.

    Attributes:
        points: (V, 3) float32 mm. normals: (V, 3). faces: (F, 3) uint32.
        colour: (V, 3) linear reflectance; rough, metal: (V,) 0 to 1.
    """

    points: np.ndarray
    normals: np.ndarray
    faces: np.ndarray
    colour: np.ndarray
    rough: np.ndarray
    metal: np.ndarray

    def moved(self, rotation: np.ndarray, shift: np.ndarray) -> Mesh:
        """The mesh turned, then shifted."""
        return Mesh(
            (self.points @ rotation.T + shift).astype(np.float32),
            (self.normals @ rotation.T).astype(np.float32),
            self.faces,
            self.colour,
            self.rough,
            self.metal,
        )


def joined(meshes: list[Mesh]) -> Mesh:
    """All meshes as one."""
    starts = np.cumsum([0, *[len(m.points) for m in meshes]])
    return Mesh(
        np.concatenate([m.points for m in meshes]).astype(np.float32),
        np.concatenate([m.normals for m in meshes]).astype(np.float32),
        np.concatenate([m.faces + s for m, s in zip(meshes, starts, strict=False)]).astype(
            np.uint32
        ),
        np.concatenate([m.colour for m in meshes]).astype(np.float32),
        np.concatenate([m.rough for m in meshes]).astype(np.float32),
        np.concatenate([m.metal for m in meshes]).astype(np.float32),
    )


def grid_faces(rows: int, cols: int, wrap: bool) -> np.ndarray:
    """Faces of a grid of vertices in row order; `wrap` closes every row to a ring."""
    index = np.arange(rows * cols, dtype=np.uint32).reshape(rows, cols)
    if wrap:
        index = np.concatenate([index, index[:, :1]], 1)
    a, b, c, d = index[:-1, :-1], index[:-1, 1:], index[1:, 1:], index[1:, :-1]
    upper = np.stack([a, b, c], -1).reshape(-1, 3)
    lower = np.stack([a, c, d], -1).reshape(-1, 3)
    return np.concatenate([upper, lower])


def grid_normals(points: np.ndarray, wrap: bool) -> np.ndarray:
    """Normals of a (rows, cols, 3) grid, for faces as `grid_faces` makes them."""
    along = np.empty_like(points)
    along[1:-1] = points[2:] - points[:-2]
    along[0], along[-1] = points[1] - points[0], points[-1] - points[-2]
    if wrap:
        around = np.roll(points, -1, 1) - np.roll(points, 1, 1)
    else:
        around = np.empty_like(points)
        around[:, 1:-1] = points[:, 2:] - points[:, :-2]
        around[:, 0], around[:, -1] = points[:, 1] - points[:, 0], points[:, -1] - points[:, -2]
    normal = np.cross(around, along)
    size = np.linalg.norm(normal, axis=-1, keepdims=True)
    return normal / np.maximum(size, 1e-12)


def from_grid(
    points: np.ndarray,
    wrap: bool,
    colour: np.ndarray,
    rough: np.ndarray | float,
    metal: np.ndarray | float,
) -> Mesh:
    """A mesh from a (rows, cols, 3) grid with values for all or each of its vertices."""
    rows, cols = points.shape[:2]
    n = rows * cols
    spread = np.ones((rows, cols), np.float32)
    return Mesh(
        points.reshape(n, 3).astype(np.float32),
        grid_normals(points, wrap).reshape(n, 3).astype(np.float32),
        grid_faces(rows, cols, wrap),
        (np.asarray(colour, np.float32) * spread[..., None]).reshape(n, 3),
        (np.asarray(rough, np.float32) * spread).reshape(n),
        (np.asarray(metal, np.float32) * spread).reshape(n),
    )


def volume(mesh: Mesh) -> float:
    """Signed volume, positive when the faces look outwards."""
    a, b, c = (mesh.points[mesh.faces[:, i]].astype(np.float64) for i in range(3))
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6)


def turned(
    radius: np.ndarray,
    along: np.ndarray,
    axis: np.ndarray,
    start: np.ndarray,
    colour: np.ndarray,
    rough: np.ndarray | float,
    metal: np.ndarray | float,
) -> Mesh:
    """A turned part: radius (rows, cols) at positions `along` an axis from `start`."""
    axis = np.asarray(axis, float) / np.linalg.norm(axis)
    side = np.cross(axis, [0.0, 0.0, 1.0] if abs(axis[2]) < 0.9 else [1.0, 0.0, 0.0])
    side /= np.linalg.norm(side)
    up = np.cross(side, axis)
    angle = np.linspace(0, 2 * np.pi, radius.shape[1], endpoint=False)
    ring = np.cos(angle)[:, None] * up + np.sin(angle)[:, None] * side
    points = start + along[:, None, None] * axis + radius[..., None] * ring[None]
    return from_grid(points, True, colour, rough, metal)


def tube(
    path: np.ndarray,
    radius: np.ndarray | float,
    sides: int,
    colour: np.ndarray,
    rough: np.ndarray | float,
    metal: np.ndarray | float,
) -> Mesh:
    """A tube along a path (n, 3), radius one number or (n, sides)."""
    tangent = np.gradient(path, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    side = np.cross(tangent, [0.0, 0.0, 1.0])
    side /= np.maximum(np.linalg.norm(side, axis=1, keepdims=True), 1e-9)
    up = np.cross(side, tangent)
    angle = np.linspace(0, 2 * np.pi, sides, endpoint=False)
    ring = np.cos(angle)[None, :, None] * up[:, None] + np.sin(angle)[None, :, None] * side[:, None]
    r = np.broadcast_to(np.asarray(radius, float), (len(path), sides))
    return from_grid(path[:, None] + r[..., None] * ring, True, colour, rough, metal)


def box(
    centre: np.ndarray, size: np.ndarray, colour: np.ndarray, rough: float, metal: float
) -> Mesh:
    """A box with sharp edges."""
    faces = []
    for axis in range(3):
        for sign in (-1.0, 1.0):
            u, v = np.eye(3)[(axis + 1) % 3], np.eye(3)[(axis + 2) % 3]
            s = np.array([-0.5, 0.5])
            grid = (
                s[:, None, None] * u + s[None, :, None] * v * -sign + sign * 0.5 * np.eye(3)[axis]
            )
            faces.append(from_grid(grid * size + centre, False, colour, rough, metal))
    return joined(faces)

"""Surfaces: metals, anodising and plating with their wear, given as values per vertex."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from .relief import noise, scratch_field

ALUMINIUM = np.array([0.90, 0.91, 0.92])
STEEL = np.array([0.55, 0.56, 0.57])
ANODISED = {
    "red": (0.50, 0.02, 0.03), "blue": (0.03, 0.10, 0.48), "black": (0.022, 0.022, 0.024),
    "gold": (0.72, 0.47, 0.11), "green": (0.05, 0.30, 0.08), "grey": (0.27, 0.28, 0.30),
    "orange": (0.75, 0.20, 0.02), "violet": (0.22, 0.06, 0.40), "bronze": (0.33, 0.20, 0.11),
    "teal": (0.03, 0.30, 0.34), "dark grey": (0.09, 0.09, 0.10),
}  # fmt: skip


@dataclass(frozen=True)
class Finish:
    """A connector's surface.

    Attributes:
        name: polished, brushed, tumbled, anodised, steel, plated, stainless.
        colour: linear reflectance. core: of the metal under a coating (same if none).
        rough: microscopic roughness. brush: depth of brush lines, mm, and their direction.
        pits: depth of tumbling marks, mm. rub: how much of the coating is rubbed off, 0 to 1.
        mark: colour of laser marks, with their metalness and roughness.
    """

    name: str
    colour: tuple[float, float, float]
    core: tuple[float, float, float]
    rough: float
    brush: float
    brush_along: bool
    pits: float
    rub: float
    scratches: int
    mark: tuple[float, float, float]
    mark_metal: float
    mark_rough: float


def invent_finish(rng: np.random.Generator, steel: bool, used: float) -> Finish:
    """An everyday finish; `used` from 0 (new) to 1 (an old one)."""
    u = rng.uniform
    if steel:
        name = ("steel", "plated", "stainless")[rng.integers(0, 3)]
        tint = {
            "steel": np.array([0.34, 0.34, 0.35]),
            "plated": STEEL * (np.array([1.05, 1.0, 0.86]) if u() < 0.5 else 1.0),
            "stainless": STEEL * 1.08,
        }[name]
        rough = {"steel": u(0.3, 0.45), "plated": u(0.2, 0.34), "stainless": u(0.12, 0.25)}[name]
        core = tint
    else:
        name = ("polished", "brushed", "tumbled", "anodised")[
            int(rng.choice(4, p=[0.16, 0.17, 0.17, 0.5]))
        ]
        core = ALUMINIUM * u(0.84, 1.0)
        tint = core
        if name == "anodised":
            tint = np.array(list(ANODISED.values())[rng.integers(0, len(ANODISED))])
            tint = np.clip(tint * u(0.75, 1.3), 0, 0.95)
        rough = {
            "polished": u(0.12, 0.2), "brushed": u(0.18, 0.3),
            "tumbled": u(0.28, 0.46), "anodised": u(0.2, 0.42),
        }[name]  # fmt: skip
    mark, metal, m_rough = _laser_look(rng, name, tint)
    return Finish(
        name,
        tuple(tint),
        tuple(core),
        rough,
        u(0.0008, 0.003) if name == "brushed" else u(0, 0.0005),
        bool(rng.random() < 0.65),
        u(0.001, 0.007) if name in ("tumbled", "steel") else u(0, 0.0015),
        used * u(0.2, 1.0),
        int(used * u(10, 120)),
        mark,
        metal,
        m_rough,
    )


def _laser_look(
    rng: np.random.Generator, name: str, tint: np.ndarray
) -> tuple[tuple[float, float, float], float, float]:
    """Frosted (light) or annealed (dark), whichever stands out from the metal."""
    u = rng.uniform
    bright = float(np.mean(tint))
    light = bright < 0.3 if name == "anodised" else u() < 0.35
    if name == "steel":
        light = u() < 0.6
    if light:
        level = u(0.55, 0.85)
        return (level, level, level * u(0.93, 1.0)), u(0.0, 0.3), u(0.5, 0.8)
    level = u(0.012, 0.09)
    return (level * u(1.0, 1.25), level, level * u(0.8, 1.0)), u(0.0, 0.35), u(0.4, 0.75)


class Field:
    """A smooth or rough field over the body, sampled at way along (u) and round (s), mm."""

    def __init__(self, values: np.ndarray, u0: float, s0: float, px: float) -> None:
        self.values, self.u0, self.s0, self.px = values, u0, s0, px

    def at(self, u: np.ndarray, s: np.ndarray) -> np.ndarray:
        """Values on the grid of ways u (rows) and s (columns)."""
        rows = np.repeat(((u - self.u0) * self.px)[:, None], len(s), 1)
        cols = np.repeat(((s - self.s0) * self.px)[None], len(u), 0)
        return cv2.remap(
            self.values.astype(np.float32),
            cols.astype(np.float32),
            rows.astype(np.float32),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )


def sample_strip(values: np.ndarray, px: float, u: np.ndarray, s: np.ndarray) -> np.ndarray:
    """A strip map on the grid of ways u and s; zero outside the strip."""
    rows = (-s * px + values.shape[0] / 2 - 0.5)[None].repeat(len(u), 0)
    cols = (u * px + values.shape[1] / 2 - 0.5)[:, None].repeat(len(s), 1)
    return cv2.remap(
        values.astype(np.float32),
        cols.astype(np.float32),
        rows.astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=0,
    )


def texture(
    rng: np.random.Generator, finish: Finish, u: np.ndarray, s: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Height (mm) of brushing, pits and dents; scratches 0 to 1; rubbed-off coating 0 to 1."""
    px = 8.0
    shape = (int(np.ptp(u) * px) + 8, int(np.ptp(s) * px) + 8)
    height = np.zeros(shape, np.float32)
    lines = rng.standard_normal(shape).astype(np.float32)
    run = (81, 1) if finish.brush_along else (1, 81)
    lines = cv2.blur(lines, run[::-1]) * 9
    height += finish.brush * lines
    height += finish.pits * (noise(rng, shape, 0.5 * px) + 0.6 * noise(rng, shape, 0.22 * px))
    height += 0.012 * noise(rng, shape, 6 * px)
    scratches = scratch_field(rng, shape, px, finish.scratches * 2, False)
    rub = np.clip(noise(rng, shape, 7 * px) * 0.7 + noise(rng, shape, 1.5 * px) * 0.4, -2, 2)
    fields = [Field(f, float(u.min()), float(s.min()), px).at(u, s) for f in (height, scratches)]
    return fields[0], fields[1], Field(rub, float(u.min()), float(s.min()), px).at(u, s)


def edge_wear(points: np.ndarray, u: np.ndarray, straight: float) -> np.ndarray:
    """How exposed each vertex is to rubbing: convex edges of the section, insides of the bows."""
    around = np.roll(points, -3, 1) + np.roll(points, 3, 1) - 2 * points
    step = np.linalg.norm(np.roll(points, -3, 1) - np.roll(points, 3, 1), axis=-1) / 2
    bend = np.linalg.norm(around, axis=-1) / np.maximum(step, 1e-3) ** 2
    bend = np.clip(bend * 0.9 - 0.35, 0, 1)
    bows = np.clip((np.abs(u) - straight / 2 - 8) / 15, 0, 1)[:, None]
    return np.clip(bend + 0.5 * bows, 0, 1.2).astype(np.float32)

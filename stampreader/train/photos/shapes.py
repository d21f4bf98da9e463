"""Shapes of connectors: the curve of the body, its cross-section, and the sweep of one along it.

The connector lies in the plane z = 0, its spine along +y on the left, the gate on the right. The
body runs from the hinge end round the bottom, up the spine and over the top to the nose.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d


@dataclass(frozen=True)
class Form:
    """One connector's form, mm.

    Attributes:
        kind: oval, D, offset, pear or link.
        length, width: of the body's middle line. stock: thickness of the bar.
        section: round, flat or beam (a recessed panel). flat: half width of the level face.
        bow: how far the spine bulges outwards. gap0, gap1: where the gate begins and ends.
        gate: solid, wire, sleeve or nut.
    """

    kind: str
    length: float
    width: float
    stock: float
    section: str
    squareness: float
    flat: float
    recess: float
    bow: float
    gate: str
    broad: float = 1.0


def rounded(corners: list[tuple[float, float, float]], step: float = 0.25) -> np.ndarray:
    """A closed polygon with rounded corners (x, y, radius), as points about `step` apart."""
    pts = np.array([c[:2] for c in corners], float)
    out = []
    n = len(corners)
    for i in range(n):
        before, here, after = pts[i - 1], pts[i], pts[(i + 1) % n]
        a = (before - here) / np.linalg.norm(before - here)
        b = (after - here) / np.linalg.norm(after - here)
        half = np.arccos(np.clip(a @ b, -1, 1)) / 2
        room = 0.495 * min(np.linalg.norm(before - here), np.linalg.norm(after - here))
        reach = min(corners[i][2] / max(np.tan(half), 1e-6), room)
        r = reach * np.tan(half)
        middle = here + (a + b) / np.linalg.norm(a + b) * r / np.sin(half)
        p0, p1 = here + a * reach - middle, here + b * reach - middle
        a0 = np.arctan2(p0[1], p0[0])
        turn = np.arctan2(p0[0] * p1[1] - p0[1] * p1[0], p0 @ p1)
        t = np.linspace(0, 1, max(4, int(abs(turn) * r / step)))
        out.append(middle + r * np.c_[np.cos(a0 + turn * t), np.sin(a0 + turn * t)])
    return np.concatenate(out)


def evenly(points: np.ndarray, count: int) -> np.ndarray:
    """Closed polyline resampled to `count` points evenly apart (first point not repeated)."""
    closed = np.concatenate([points, points[:1]])
    way = np.r_[0, np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))]
    keep = np.r_[True, np.diff(way) > 1e-9]
    at = np.linspace(0, way[-1], count, endpoint=False)
    return np.c_[[np.interp(at, way[keep], closed[keep, k]) for k in (0, 1)]].T


def corners(form: Form) -> list[tuple[float, float, float]]:
    """Corners clockwise from the hinge: bottom right, bottom left, (bulge), top left, top right."""
    x, y = form.width, form.length / 2
    bulge = [(-form.bow, 0.0, 400.0)] if form.bow > 0 else []
    if form.kind == "oval":
        r = x / 2
        return [(x, -y, r), (0, -y, r), *bulge, (0, y, r), (x, y, r)]
    if form.kind == "link":
        r = x * 0.48
        return [(x, -y, r), (0, -y, r), (0, y, r), (x, y, r)]
    if form.kind == "D":
        return [(x, -y + 9, 11), (0, -y, 13), *bulge, (0, y, 14), (x, y - 7, 12)]
    if form.kind == "offset":
        return [(0.7 * x, -y + 4, 9), (0, -y, 11), *bulge, (0, y, 16), (x, y - 5, 15)]
    return [(0.66 * x, -y, 12), (0.0, -y, 12), *bulge, (-1, y, 26), (x + 2, y, 22)]


def centre_line(form: Form) -> tuple[np.ndarray, np.ndarray]:
    """Middle line of the body: points (n, 2) 0.1 mm apart from hinge to nose, and its tangents."""
    loop = rounded(corners(form))
    total = np.linalg.norm(np.diff(np.r_[loop, loop[:1]], axis=0), axis=1).sum()
    n = int(total / 0.1)
    even = evenly(loop, n)
    even = np.c_[[gaussian_filter1d(even[:, k], 18, mode="wrap") for k in (0, 1)]].T
    gate = np.array([c[:2] for c in (corners(form)[0], corners(form)[-1])])
    low, high = gate[0] * 0.72 + gate[1] * 0.28, gate[0] * 0.24 + gate[1] * 0.76
    first = int(np.argmin(np.linalg.norm(even - low, axis=1)))
    last = int(np.argmin(np.linalg.norm(even - high, axis=1)))
    body = np.roll(even, -first, 0)[: (last - first) % n + 1]
    tangent = np.gradient(body, axis=0)
    return body, tangent / np.linalg.norm(tangent, axis=1, keepdims=True)


def spine_middle(line: np.ndarray, tangent: np.ndarray) -> tuple[float, float]:
    """Way along the body to the spine's middle, and the length of its straight part, mm."""
    straight = tangent[:, 1] > 0.985
    index = np.nonzero(straight & (line[:, 0] < line[:, 0].mean()))[0]
    runs = np.split(index, np.nonzero(np.diff(index) > 1)[0] + 1)
    best = max(runs, key=len)
    return float((best[0] + best[-1]) * 0.05), float(len(best) * 0.1)


def section(form: Form, angle: np.ndarray, forged: np.ndarray) -> np.ndarray:
    """Cross-section points (..., 2) = (outwards, up) at angles from 'up'; forged 0 to 1 per row.

    Away from the spine the bar is round; along it the section is squared, flattened or recessed.
    """
    r = form.stock / 2
    c, s = np.cos(angle), np.sin(angle)
    disc = np.stack([r * s, r * c], -1)
    if form.section == "round":
        return np.broadcast_to(disc, (len(forged), *disc.shape)).copy()
    n = form.squareness
    k = (np.abs(s) ** n + np.abs(c) ** n) ** (-1 / n)
    wide, tall = form.broad * r, r * (0.8 if form.section == "flat" else 0.95)
    shaped = np.stack([wide * s * k, tall * c * k], -1)
    if form.section == "beam":
        edge = np.clip((np.abs(shaped[:, 0]) - form.flat) / (0.16 * r), -1, 1)
        dip = form.recess * 0.5 * (1 - np.sin(edge * np.pi / 2))
        shaped[:, 1] -= np.sign(c) * np.where(np.abs(c) > 0.2, dip, 0)
    f = forged[:, None, None]
    return disc[None] * (1 - f) + shaped[None] * f


def ring_angles(form: Form, half: float, cell: float) -> tuple[np.ndarray, np.ndarray]:
    """Angles round the section and their way from the top, mm; fine within `half` of the top.

    Both fall, so that faces made from the grid look outwards.
    """
    dense = np.linspace(-np.pi, np.pi, 8001)
    outline = section(form, dense, np.ones(1))[0]
    way = np.r_[0, np.cumsum(np.linalg.norm(np.diff(outline, axis=0), axis=1))]
    way -= way[4000]
    fine = np.arange(-half, half + cell / 2, cell)
    left = np.linspace(way[0], -half, max(12, int((-half - way[0]) / 0.3)), endpoint=False)
    right = np.linspace(half, way[-1], max(12, int((way[-1] - half) / 0.3)) + 1)[1:-1]
    at = np.concatenate([left, fine[:-1], [half], right])[::-1]
    return np.interp(at, way, dense), at


@dataclass
class Sweep:
    """The body as a grid before the stamp: frame and way along and round it.

    Attributes:
        points, normals: (rows, cols, 3). u: way along the body from the spine's middle, mm.
        s: way round the section from its top, mm. forged: how far each row is shaped, 0 to 1.
    """

    points: np.ndarray
    u: np.ndarray
    s: np.ndarray
    forged: np.ndarray
    straight: float


def sweep(form: Form, half_length: float, half_height: float, cell: float) -> Sweep:
    """Sweep the section along the body, fine where the stamp lies."""
    line, tangent = centre_line(form)
    middle, straight = spine_middle(line, tangent)
    total = (len(line) - 1) * 0.1
    low, high = middle - half_length, middle + half_length
    at = np.concatenate(
        [
            np.arange(0, low, 0.35),
            np.arange(low, high, cell),
            np.arange(high, total, 0.35),
            [total],
        ]
    )
    way = np.arange(len(line)) * 0.1
    point = np.c_[[np.interp(at, way, line[:, k]) for k in (0, 1)]].T
    tang = np.c_[[np.interp(at, way, tangent[:, k]) for k in (0, 1)]].T
    tang /= np.linalg.norm(tang, axis=1, keepdims=True)
    u = at - middle
    forged = np.clip((straight / 2 + 9 - np.abs(u)) / 12, 0, 1)
    forged = forged * forged * (3 - 2 * forged)
    angle, s = ring_angles(form, half_height, cell)
    shape = section(form, angle, forged)
    end = np.minimum(at, total - at) / (form.stock / 2)
    cap = np.sqrt(np.clip(1 - np.clip(1 - end, 0, 1) ** 2, 0.0004, 1))
    shape *= cap[:, None, None]
    out = np.stack([-tang[:, 1], tang[:, 0]], -1)
    points = np.empty((len(at), len(angle), 3))
    points[..., :2] = point[:, None] + shape[..., :1] * out[:, None]
    points[..., 2] = shape[..., 1]
    return Sweep(points, u, s, forged, straight)


def gate_ends(form: Form) -> tuple[np.ndarray, np.ndarray]:
    """Middle of the body's hinge end and of its nose, (x, y)."""
    line, _ = centre_line(form)
    return line[0], line[-1]


def invent_form(rng: np.random.Generator, kind: str) -> Form:
    """A connector's form with everyday proportions."""
    u = rng.uniform
    if kind == "link":
        length = u(52, 84)
        stock = u(7.5, 11)
        return Form(
            kind, length, u(0.5, 0.62) * length, stock, "round", 2, stock * 0.3, 0, 0, "nut"
        )
    length, width = {
        "oval": (u(88, 104), u(46, 54)),
        "D": (u(92, 112), u(46, 58)),
        "offset": (u(92, 114), u(52, 66)),
        "pear": (u(98, 118), u(60, 76)),
    }[kind]
    stock = u(9.5, 12.5)
    shape = ("round", "flat", "beam")[int(rng.choice(3, p=[0.34, 0.4, 0.26]))]
    gate = ("solid", "wire", "sleeve")[int(rng.choice(3, p=[0.24, 0.14, 0.62]))]
    bow = u(0.3, 2.2) if rng.random() < 0.6 else 0.0
    broad = u(0.95, 1.18)
    flat = stock / 2 * broad * u(0.6, 0.74)
    recess = u(0.3, 1.0)
    return Form(kind, length, width, stock, shape, u(2.6, 5.0), flat, recess, bow, gate, broad)

"""One whole connector: its stamp, body, gate and surface, and where every glyph lies on it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from . import faces, pictograms
from .content import Content, invent
from .finish import Finish, edge_wear, invent_finish, sample_strip, texture
from .layout import Placed, Strip, Style, invent_style, lay_out, turned
from .mesh import Mesh, from_grid, grid_normals, joined
from .parts import gate
from .relief import Maps, Method, glyph_lines, make_maps
from .shapes import Form, Sweep, invent_form, sweep

DIRT = np.array([0.035, 0.027, 0.02])


@dataclass
class Plan:
    """Everything random about one connector, decided before any geometry is made."""

    form: Form
    finish: Finish
    content: Content | None
    style: Style | None
    face: str
    family: str
    method: Method
    reverse: bool
    paint: tuple[float, float, float] | None
    seed: int
    worn_degree: int = 0


@dataclass
class SurfaceGlyph:
    """A glyph in space: corners (4, 3), points on and off its edges (n, 3), mm."""

    char: str
    role: str
    cap: float
    corners: np.ndarray
    on: np.ndarray
    off: np.ndarray


@dataclass
class Connector:
    """A built connector: one mesh and its glyphs in space."""

    mesh: Mesh
    glyphs: list[SurfaceGlyph]
    strip: Strip | None
    panel: np.ndarray = field(default_factory=lambda: np.zeros((4, 3)))


def invent_method(rng: np.random.Generator, name: str, form: Form, used: float) -> Method:
    """Depth, edge and wear of a marking method; `used` from 0 to 1."""
    u = rng.uniform
    depth = {
        "laser": u(0.45, 1.0), "engraved": u(0.06, 0.26), "stamped": u(0.08, 0.32),
        "raised": u(0.12, 0.38), "dot-peen": u(0.06, 0.2),
    }[name]  # fmt: skip
    edge = {
        "laser": 0.0, "engraved": u(0.02, 0.05), "stamped": u(0.04, 0.09),
        "raised": u(0.05, 0.11), "dot-peen": u(0.03, 0.06),
    }[name]  # fmt: skip
    return Method(
        name,
        depth,
        edge,
        u(0.09, 0.17),
        used * u(0.0, 0.6),
        used * u(0.0, 0.35) if rng.random() < 0.6 else 0.0,
        int(used * u(5, 90)),
        u(0.2, 0.9) if rng.random() < 0.25 + 0.35 * used else 0.0,
        u(0.0, 0.05) if name in ("raised", "stamped") else 0.0,
    )


METHODS = ("laser", "engraved", "stamped", "raised", "dot-peen")


def invent_plan(rng: np.random.Generator, kind: str) -> Plan:
    """A random connector for a kind of set."""
    content = invent(rng)
    link = content.klass.endswith("/Q")
    shape = {"EN 12275/H": "pear", "EN 12275/X": "oval", "EN 12275/K": "pear"}.get(content.klass)
    if shape is None or rng.random() < 0.2:
        shape = ("oval", "D", "offset", "pear")[int(rng.choice(4, p=[0.2, 0.25, 0.35, 0.2]))]
    form = invent_form(rng, "link" if link else shape)
    used = float(np.clip(rng.beta(0.9, 1.5), 0, 1))
    steel = (link and rng.random() < 0.8) or rng.random() < 0.2
    finish = invent_finish(rng, steel, used)
    name = METHODS[int(rng.choice(5, p=[0.36, 0.2, 0.19, 0.14, 0.11]))]
    method = invent_method(rng, name, form, used)
    drawn = pictograms.families(kind)
    own = faces.own_names(kind)
    pool = own if rng.random() < 0.5 else faces.names(kind)
    hand = name == "stamped" and rng.random() < 0.35
    paint = None
    if name in ("engraved", "stamped") and rng.random() < 0.1:
        paint = ((0.02, 0.02, 0.02), (0.8, 0.8, 0.78), (0.5, 0.02, 0.02))[rng.integers(0, 3)]
    style = invent_style(rng, content, hand)
    return Plan(
        form=form,
        finish=finish,
        content=content,
        style=style,
        face=pool[rng.integers(0, len(pool))],
        family=drawn[rng.integers(0, len(drawn))].name,
        method=method,
        reverse=bool(rng.random() < 0.5),
        paint=paint,
        seed=int(rng.integers(0, 2**31)),
    )


def room(form: Form, straight: float) -> tuple[float, float]:
    """Length and height free for the stamp, mm."""
    high = {"round": 1.18 * form.stock / 2, "flat": 1.8 * form.flat, "beam": 1.66 * form.flat}
    return straight * 0.96, high[form.section]


def set_stamp(plan: Plan, straight: float, rng: np.random.Generator) -> Strip | None:
    """Lay the stamp out on this form; None for a blank."""
    if plan.content is None or plan.style is None:
        return None
    family = next(f for f in pictograms.FAMILIES if f.name == plan.family)
    strip = lay_out(
        plan.content, plan.style, faces.Face(plan.face), family, room(plan.form, straight), rng
    )
    return turned(strip) if plan.reverse else strip


def build(plan: Plan, cell: float) -> Connector:
    """Make the mesh; `cell` is the grid's step where the stamp lies, mm."""
    rng = np.random.default_rng(plan.seed)
    first = sweep(plan.form, 5.0, 2.0, 0.5)
    strip = set_stamp(plan, first.straight, rng)
    half = (room(plan.form, first.straight)[0] / 2 + 2, room(plan.form, 0)[1] / 2 + 0.7)
    body = sweep(plan.form, half[0], half[1], cell)
    face = faces.Face(plan.face)
    jitter = plan.style.jitter if plan.style else 0.0
    maps = make_maps(
        strip, face, plan.method, (2 * half[0], 2 * half[1]), min(32.0, 1.3 / cell), jitter, rng
    )
    mesh, surface = coat(body, maps, plan, rng)
    tint = np.array(plan.finish.colour)
    parts = gate(plan.form, rng, tint, plan.finish.rough)
    where = Surface(surface, body.u, body.s)
    glyphs = place_glyphs(strip, face, where, 2 * half[1] - 1.4) if strip else []
    return Connector(joined([mesh, *parts]), glyphs, strip, where.at(_panel(half)))


def _panel(half: tuple[float, float]) -> np.ndarray:
    x, y = half[0] - 2, half[1] - 0.7
    return np.array([[-x, y], [x, y], [x, -y], [-x, -y]])


def coat(body: Sweep, maps: Maps, plan: Plan, rng: np.random.Generator) -> tuple[Mesh, np.ndarray]:
    """Displace the body by stamp and texture, and colour it."""
    finish = plan.finish
    height, scratches, rub = texture(rng, finish, body.u, body.s)
    stamp, laser, dirt, bare = (
        sample_strip(m, maps.px, body.u, body.s)
        for m in (maps.height, maps.laser, maps.dirt, maps.bare)
    )
    normals = grid_normals(body.points, True)
    points = body.points + normals * (height + stamp - 0.006 * scratches)[..., None]
    exposed = edge_wear(body.points, body.u, body.straight)
    worn = np.clip((exposed + 0.55 * rub - 1.25 + 1.1 * finish.rub) * 2.2, 0, 1) * (
        finish.rub > 0.05
    )
    worn = np.clip(np.maximum(worn, bare * 0.8 * finish.rub) + scratches * 0.7, 0, 1)
    colour = _mix(np.array(finish.colour), np.array(finish.core), worn)
    rough = finish.rough * (1 + 0.15 * np.clip(rub, -1, 1)) + 0.06 * worn
    metal = np.ones_like(worn)
    colour = _mix(colour, np.array(finish.mark), laser)
    rough = rough * (1 - laser) + finish.mark_rough * laser
    metal = metal * (1 - laser) + finish.mark_metal * laser
    if plan.paint is not None:
        fill = np.clip(-stamp / max(plan.method.depth, 1e-3) * 1.8 - 0.5, 0, 1)
        colour, rough = _mix(colour, np.array(plan.paint), fill), rough * (1 - fill) + 0.5 * fill
        metal = metal * (1 - fill)
    colour, rough = _mix(colour, DIRT, dirt), rough * (1 - dirt) + 0.9 * dirt
    metal = metal * (1 - dirt)
    return from_grid(points, True, colour, np.clip(rough, 0.08, 1), metal), points


def _mix(a: np.ndarray, b: np.ndarray, share: np.ndarray) -> np.ndarray:
    return a * (1 - share[..., None]) + b * share[..., None]


class Surface:
    """Finds points of the stamped surface from strip coordinates."""

    def __init__(self, points: np.ndarray, u: np.ndarray, s: np.ndarray) -> None:
        self.points, self.u, self.s = points, u, s

    def at(self, xy: np.ndarray) -> np.ndarray:
        """Strip mm (n, 2) to space (n, 3)."""
        row = np.interp(xy[:, 0], self.u, np.arange(len(self.u)))
        col = np.interp(-xy[:, 1], -self.s, np.arange(len(self.s)))
        r, c = row.astype(int), col.astype(int)
        r, c = np.clip(r, 0, len(self.u) - 2), np.clip(c, 0, len(self.s) - 2)
        fr, fc = (row - r)[:, None], (col - c)[:, None]
        p = self.points
        low = p[r, c] * (1 - fc) + p[r, c + 1] * fc
        high = p[r + 1, c] * (1 - fc) + p[r + 1, c + 1] * fc
        return low * (1 - fr) + high * fr


def place_glyphs(strip: Strip, face: faces.Face, where: Surface, high: float) -> list[SurfaceGlyph]:
    """Boxes of all glyphs in space, with points on their edges and on bare metal beside them."""
    boxes = [_box(g, 1.0) for g in strip.glyphs]
    out = []
    for g in strip.glyphs:
        edge = np.concatenate([_paced(p, 0.07 * g.cap) for p in glyph_lines(g, face)])
        rim = np.concatenate([_box(g, k, 17) for k in (0.0, 0.5, 1.0, 1.4, 1.7, 2.1)])
        far = np.linalg.norm(rim[:, None] - edge[None], axis=-1).min(1)
        free = (far > 0.16 * g.cap) & (np.abs(rim[:, 1]) < high / 2 - 0.4)
        for other, box in zip(strip.glyphs, boxes, strict=True):
            if other is not g:
                free &= ~_inside(rim, box, 0.12 * g.cap)
        off = rim[free] if free.sum() >= 4 else rim[np.argsort(far)[-12:]]
        out.append(
            SurfaceGlyph(
                g.char, g.role, g.cap, where.at(_box(g, 1.0)), where.at(edge), where.at(off)
            )
        )
    return out


def _box(g: Placed, height: float, points: int = 2) -> np.ndarray:
    """Corners of a glyph's box, its height stretched; or points on its upper and lower edge."""
    a = np.radians(g.angle)
    ex, ey = np.array([np.cos(a), np.sin(a)]), np.array([-np.sin(a), np.cos(a)])
    t = np.linspace(-0.5, 0.5, points)[:, None]
    middle, lift = np.array([g.x, g.y]), ey * (g.h / 2 + (height - 1) * g.cap / 2)
    return np.concatenate([middle + t * ex * g.w + lift, middle - t * ex * g.w - lift])


def _inside(points: np.ndarray, box: np.ndarray, margin: float) -> np.ndarray:
    """Which points lie in a box or nearer than the margin to it."""
    a, b, d = box[0], box[1], box[3]
    ex, ey = b - a, d - a
    w, h = max(float(np.linalg.norm(ex)), 1e-6), max(float(np.linalg.norm(ey)), 1e-6)
    x, y = (points - a) @ ex / w, (points - a) @ ey / h
    return (x > -margin) & (x < w + margin) & (y > -margin) & (y < h + margin)


def _paced(line: np.ndarray, step: float) -> np.ndarray:
    """Points evenly apart on a polyline."""
    way = np.r_[0, np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))]
    at = np.arange(0, max(way[-1], step / 2), step)
    return np.c_[np.interp(at, way, line[:, 0]), np.interp(at, way, line[:, 1])]

"""Plans one picture and builds its scene: connectors, bench, clutter, light, camera."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import count

import cv2
import numpy as np

from . import KINDS
from .bench import SPAN, invent_bench, waves
from .camera import Camera, aim, widened
from .connector import Connector, Plan, build, invent_plan
from .content import Content
from .light import invent_light
from .mesh import Mesh, from_grid, joined, tube
from .parts import CLUTTER, sticker

MEGAPIXELS = {
    "test": ((2.0, 0.28), (3.0, 0.5), (5.0, 0.12), (8.0, 0.05), (12.0, 0.05)),
    "tuning": ((1.2, 0.3), (2.0, 0.4), (3.0, 0.3)),
    "calibration": ((0.786, 0.5), (1.2, 0.3), (1.92, 0.2)),
    "stack": ((0.6, 1.0),),
    "delivery": ((1.2, 1.0),),
}
SPOILT = ("blank", "worn away", "blurred", "covered")
SPOILT_EVERY = {"test": 6, "tuning": 8, "calibration": 8}
SEVERAL_SHARE = {"test": 0.16, "tuning": 0.12, "calibration": 0.04, "stack": 0.0, "delivery": 0.0}
LABEL_SHARE = {"test": 0.12, "tuning": 0.03, "calibration": 0.0, "stack": 0.0, "delivery": 0.0}
ODD_ONE = 17  # of a delivery, the one with another figure
STACK_BLANKS = 5  # every fifth stack shows a blank face: 8 of 40


@dataclass
class Shot:
    """What one picture shows, before it is built.

    Attributes:
        spoilt: why nothing can be read ("" if it can).
        size: (width, height) of the upright picture.
        label: text of the QR label ("" if none).
    """

    name: str
    kind: str
    index: int
    seed: tuple[int, ...]
    connectors: list[Plan]
    spoilt: str
    size: tuple[int, int]
    exif: int
    label: str


@dataclass
class Scene:
    """All that the tracer needs, and what the truth needs afterwards."""

    shot: Shot
    things: Mesh
    bench: np.ndarray
    albedo: np.ndarray
    bench_rough: float
    lights: list[np.ndarray]
    cameras: list[Camera]
    glyphs: list[list]
    panels: list[np.ndarray]
    strips: list
    notes: dict[str, str] = field(default_factory=dict)


def rng_of(kind: str, seed: int, index: int, part: int) -> np.random.Generator:
    """The random source of one part of one picture; kinds never share one."""
    return np.random.default_rng([7919 + KINDS.index(kind), seed, index, part])


def _size(
    rng: np.random.Generator, kind: str, pixels: tuple[int, int] | None, several: int
) -> tuple[int, int]:
    if pixels:
        return pixels
    table = MEGAPIXELS[kind]
    mp = table[int(rng.choice(len(table), p=[p for _, p in table]))][0]
    if kind == "test" and several > 1:
        mp = max(mp, 3.0 if several == 2 else 5.0)
    long, short = np.sqrt(mp * 1e6 * 4 / 3), np.sqrt(mp * 1e6 * 3 / 4)
    size = (round(long / 16) * 16, round(short / 16) * 16)
    if kind == "stack":
        return 1280, 416
    return size if rng.random() < 0.6 else size[::-1]


def invent_shot(
    kind: str, seed: int, index: int, attempt: int = 0, pixels: tuple[int, int] | None = None
) -> Shot:
    """Everything random about a picture that is decided before building it."""
    rng = rng_of(kind, seed, index, attempt * 10)
    spoilt = ""
    if kind == "stack":
        spoilt = "blank" if index % STACK_BLANKS == STACK_BLANKS - 1 else ""
    elif kind in SPOILT_EVERY and index % SPOILT_EVERY[kind] == SPOILT_EVERY[kind] - 1:
        spoilt = SPOILT[index // SPOILT_EVERY[kind] % 4]
    several = 1
    if not spoilt and rng.random() < SEVERAL_SHARE[kind]:
        several = (2, 2, 2, 3, 3, 4)[rng.integers(0, 6)]
    plans = [invent_plan(rng, kind) for _ in range(several)]
    if several > 1 and rng.random() < 0.5:  # one delivery: the same model several times
        plans = [replace(plans[0], seed=p.seed, reverse=p.reverse) for p in plans]
    if kind == "delivery":
        plans = [of_delivery(seed, index)]
    plans = [_spoil(p, spoilt, kind, index, rng) for p in plans]
    label = f"K-{rng.integers(100, 10000):04d}" if rng.random() < LABEL_SHARE[kind] else ""
    exif = (1, 1, 1, 3, 6, 6, 8)[rng.integers(0, 7)] if kind != "stack" else 1
    size = _size(rng, kind, pixels, several)
    name = f"{kind}-{index:04d}"
    return Shot(name, kind, index, (seed, attempt), plans, spoilt, size, exif, label)


def of_delivery(seed: int, index: int) -> Plan:
    """One of a delivery: the same new model every time, numbered through, with one odd one out."""
    tries = (invent_plan(rng_of("delivery", seed, 0, 1000 + k), "delivery") for k in count())
    plan, content = next((p, p.content) for p in tries if p.content and _is_plain(p, p.content))
    figures = dict(content.figures)
    if index == ODD_ONE:
        figures["closed"] = f"{int(float(figures['closed'].replace(',', '.'))) + 3}"
    extras = {**content.extras, "serial": f"{4100 + index}"}
    own = rng_of("delivery", seed, index, 999)
    return replace(
        plan,
        content=replace(content, figures=figures, extras=extras),
        reverse=bool(own.random() < 0.5),
        seed=int(own.integers(0, 2**31)),
    )


def _is_plain(plan: Plan, content: Content) -> bool:
    """New, with three figures in kN that are easy to read."""
    new = plan.method.name in ("laser", "engraved") and plan.method.wear < 0.1
    return new and content.unit == "kN" and len(content.figures) == 3


def _spoil(plan: Plan, spoilt: str, kind: str, index: int, rng: np.random.Generator) -> Plan:
    if kind == "stack":
        degree = index % 3
        wear, depth = ((0.25, 0.5), (0.5, 0.75), (0.72, 0.88))[degree], plan.method.depth
        method = replace(
            plan.method, wear=float(rng.uniform(*wear)), scratches=40 + 60 * degree, depth=depth
        )
        plan = replace(plan, method=method, worn_degree=degree + 1, paint=None)
    if spoilt == "blank":
        return replace(plan, content=None)
    if spoilt == "worn away":
        method = replace(plan.method, wear=float(rng.uniform(0.975, 1.0)), scratches=160, dirt=0.0)
        return replace(plan, method=method, paint=None)
    return plan


def build_scene(shot: Shot, shots: int = 1) -> Scene:
    """Build all geometry, lights and cameras of a picture (or of a stack of `shots`)."""
    rng = rng_of(shot.kind, shot.seed[0], shot.index, shot.seed[1] * 10 + 1)
    span, cell = _framing(shot, rng)
    built = [build(plan, cell) for plan in shot.connectors]
    moved = _arrange(built, shot, rng)
    panels = [m[2] for m in moved]
    meshes = [m[0] for m in moved]
    if shot.spoilt == "covered":
        meshes.append(_cover(panels[0], shot.connectors[0], rng))
    middle = np.concatenate(panels).mean(0)
    meshes += _clutter(rng, panels, [m[0] for m in moved])
    notes: dict[str, str] = {}
    if shot.label:
        meshes.append(_label(shot.label, panels[0], moved[0][0], rng))
    cameras = _cameras(shot, rng, span, middle, [m[1] for m in moved], panels, shots)
    lights, notes["light"] = _lights(shot, rng, cameras[0], shots)
    albedo, rough, height, notes["bench"] = invent_bench(rng)
    bench = waves(rng, height) + np.array([middle[0], middle[1], 0.0])
    return Scene(
        shot, joined(meshes), bench, albedo, rough, lights, cameras,
        [m[1] for m in moved], panels, [b.strip for b in built], notes,
    )  # fmt: skip


def _framing(shot: Shot, rng: np.random.Generator) -> tuple[float, float]:
    """Millimetres across the picture's width, and the step of the surface grid."""
    form = shot.connectors[0].form
    closeup = rng.random() < 0.5
    if shot.kind in ("calibration", "stack"):
        span = form.length * rng.uniform(0.6, 1.0)
    elif closeup:
        span = form.length * rng.uniform(0.75, 1.15)
    else:
        span = form.length * rng.uniform(1.15, 1.75)
    span *= shot.size[0] / max(shot.size)
    cell = float(np.clip(0.5 * span / shot.size[0], 0.03, 0.07))
    return span, cell


def _rotation(yaw: float, lean: float, pitch: float) -> np.ndarray:
    cy, sy, cl, sl = np.cos(yaw), np.sin(yaw), np.cos(lean), np.sin(lean)
    cp, sp = np.cos(pitch), np.sin(pitch)
    about_z = np.array([[cy, -sy, 0], [sy, cy, 0], [0, 0, 1]])
    about_y = np.array([[cl, 0, sl], [0, 1, 0], [-sl, 0, cl]])
    about_x = np.array([[1, 0, 0], [0, cp, -sp], [0, sp, cp]])
    return about_z @ about_y @ about_x


def _arrange(built: list[Connector], shot: Shot, rng: np.random.Generator) -> list[tuple]:
    """Lay the connectors side by side; gives (mesh, glyphs, panel) of each, in the scene."""
    out = []
    yaw = float(rng.uniform(0, 2 * np.pi))
    across = np.array([np.cos(yaw), np.sin(yaw), 0.0])
    x = 0.0
    for item in built:
        own = yaw + (float(rng.normal(0, 0.08)) if len(built) > 1 else 0.0)
        own += np.pi if len(built) > 1 and rng.random() < 0.15 else 0.0
        turn = _rotation(own, float(rng.normal(0, 0.035)), float(rng.normal(0, 0.02)))
        reach = (item.mesh.points[::31] @ turn.T) @ across
        middle = item.mesh.points[::31].astype(float).mean(0) @ turn.T
        beside = np.array([-across[1], across[0], 0.0])
        shift = across * (x - float(reach.min())) - beside * float(middle @ beside)
        x += float(np.ptp(reach)) + float(rng.uniform(2, 10))
        mesh = item.mesh.moved(turn, shift)
        lift = -float(np.quantile(mesh.points[:, 2], 0.02)) + 0.2
        shift = shift + np.array([0, 0, lift])
        mesh = item.mesh.moved(turn, shift)
        glyphs = [
            replace(
                g,
                corners=g.corners @ turn.T + shift,
                on=g.on @ turn.T + shift,
                off=g.off @ turn.T + shift,
            )
            for g in item.glyphs
        ]
        out.append((mesh, glyphs, item.panel @ turn.T + shift))
    return out


def _cover(panel: np.ndarray, plan: Plan, rng: np.random.Generator) -> Mesh:
    """Tape or dried mud round the stamped part of the spine."""
    a, b = (panel[0] + panel[3]) / 2, (panel[1] + panel[2]) / 2
    n = 160
    path = np.linspace(a, b, n)
    path[:, 2] -= plan.form.stock * 0.5 * 0.86
    radius = plan.form.stock / 2 * max(1.0, plan.form.broad) * 1.07
    lumps = cv2.resize(
        rng.standard_normal((40, 20)).astype(np.float32), (96, n), interpolation=cv2.INTER_CUBIC
    )
    if rng.random() < 0.75:
        turns = np.floor(np.linspace(0, 5, n))[:, None] * 0.12
        colour = rng.uniform(0.02, 0.6, 3)
        return tube(path, radius + turns + 0.04 * lumps, 96, colour, 0.4, 0.0)
    fine = 0.06 * rng.standard_normal((n, 96))
    colour = np.array([0.13, 0.09, 0.06]) * (1 + 0.25 * lumps[..., None])
    return tube(
        path, radius + 0.5 + 0.3 * np.abs(lumps) + fine, 96, np.clip(colour, 0.01, 1), 0.95, 0.0
    )


def _outline(panels: list[np.ndarray], meshes: list[Mesh]) -> tuple[np.ndarray, np.ndarray]:
    points = np.concatenate([m.points[::97, :2] for m in meshes])
    return points.min(0), points.max(0)


def _clutter(rng: np.random.Generator, panels: list[np.ndarray], meshes: list[Mesh]) -> list[Mesh]:
    """Things lying around, never over a connector."""
    taken = np.concatenate([m.points[::53, :2] for m in meshes])
    out: list[Mesh] = []
    for _ in range(int(rng.integers(0, 7))):
        make = CLUTTER[rng.integers(0, len(CLUTTER))]
        at = np.r_[taken.mean(0) + rng.uniform(-95, 95, 2), 0.0]
        thing = make(rng, at, float(rng.uniform(0, 2 * np.pi)))
        spots = _spots(thing, rng)
        near = np.linalg.norm(taken[:, None] - spots[None], axis=-1).min()
        if near > 6.0 and (make.__name__ != "block" or near > 12):
            out.append(thing)
            taken = np.concatenate([taken, spots])
    return out


def _spots(thing: Mesh, rng: np.random.Generator) -> np.ndarray:
    """Points spread over a thing as seen from above, (n, 2)."""
    a, b, c = (thing.points[thing.faces[:, k], :2] for k in range(3))
    area = np.abs(np.cross(np.c_[b - a, 0 * a[:, :1]], np.c_[c - a, 0 * a[:, :1]])[:, 2]) + 1e-9
    face = rng.choice(len(area), 500, p=area / area.sum())
    w = rng.dirichlet(np.ones(3), 500)
    return w[:, :1] * a[face] + w[:, 1:2] * b[face] + w[:, 2:] * c[face]


def _label(text: str, panel: np.ndarray, mesh: Mesh, rng: np.random.Generator) -> Mesh:
    """A printed tag with a QR code, lying beside the connector's spine."""
    image = qr_image(text)
    low, high = mesh.points[:, :2].min(0), mesh.points[:, :2].max(0)
    away = panel.mean(0)[:2] - (low + high) / 2
    away /= max(np.linalg.norm(away), 1e-6)
    width = float(rng.uniform(18, 28))
    at = np.r_[panel.mean(0)[:2] + away * (width * 0.75 + 9), 0.0]
    return sticker(image, width, at, float(rng.uniform(0, 2 * np.pi)), 0.25)


def qr_image(text: str) -> np.ndarray:
    """A QR code over its text, as linear reflectance (rows, cols, 3)."""
    code = cv2.QRCodeEncoder.create().encode(text)
    code = code if code.ndim == 2 else code[..., 0]
    k = max(3, 168 // code.shape[0])
    code = np.kron(code, np.ones((k, k), np.uint8))
    side = code.shape[0] + 24
    tag = np.full((side + 34, side), 255, np.uint8)
    tag[12 : 12 + code.shape[0], 12 : 12 + code.shape[1]] = code
    size = cv2.getTextSize(text, cv2.FONT_HERSHEY_SIMPLEX, 0.8, 2)[0]
    at = ((side - size[0]) // 2, side + 22)
    cv2.putText(tag, text, at, cv2.FONT_HERSHEY_SIMPLEX, 0.8, 0, 2, cv2.LINE_AA)
    return np.repeat((0.03 + 0.79 * (tag.astype(np.float32) / 255))[..., None], 3, 2)


def _cameras(
    shot: Shot,
    rng: np.random.Generator,
    span: float,
    middle: np.ndarray,
    glyphs: list[list],
    panels: list[np.ndarray],
    shots: int,
) -> list[Camera]:
    u = rng.uniform
    tilt = float(np.clip(abs(rng.normal(0, 16)), 0, 36))
    fov = u(26, 60)
    aperture = u(0.5, 1.7)
    defocus = u(-4, 4) if rng.random() < 0.25 else 0.0
    if shot.spoilt == "blurred":
        aperture, defocus = u(1.6, 2.4), u(70, 130)
    target = middle + np.r_[rng.normal(0, 0.05, 2) * span, 0.0]
    azimuth, roll = u(0, 360), u(0, 360)
    if shot.kind == "stack":
        target, span, roll = _along_spine(middle, panels[0], azimuth, roll)
        fov, tilt = fov * 0.45, tilt * 0.6  # the middle of a larger picture
    first = aim(target, tilt, azimuth, roll, fov, span, shot.size, aperture, defocus)
    points = np.concatenate([g.corners for gs in glyphs for g in gs] or panels)
    if shot.label:  # keep the tag in the picture too
        points = np.concatenate([points, panels[0], middle[None] + (panels[0] - middle) * 0.9])
    first = widened(first, points, 0.03 if shot.kind != "calibration" else 0.05)
    return [first, *[_jittered(first, rng) for _ in range(shots - 1)]]


def _along_spine(
    middle: np.ndarray, panel: np.ndarray, azimuth: float, chance: float
) -> tuple[np.ndarray, float, float]:
    """Target, span and roll of a crop along the spine, up to 20 degrees off, either way round.

    Args:
        chance: 0 to 360, at random.
    """
    along = panel[1] - panel[0]
    way = float(np.degrees(np.arctan2(along[1], along[0])))
    off = (chance % 180) / 180 * 40 - 20 + (180 if chance >= 180 else 0)
    return middle, 1.12 * float(np.linalg.norm(along)), 90 + azimuth - way + off


def _jittered(camera: Camera, rng: np.random.Generator) -> Camera:
    """The next hand-held picture of the same view."""
    distance = float(np.linalg.norm(camera.eye - camera.target))
    eye = camera.eye + rng.normal(0, 0.012, 3) * distance
    target = camera.target + rng.normal(0, 0.006, 3) * distance * np.array([1, 1, 0.2])
    up = camera.up + rng.normal(0, 0.015, 3)
    return replace(camera, eye=eye, target=target, up=up)


def _lights(
    shot: Shot, rng: np.random.Generator, camera: Camera, shots: int
) -> tuple[list[np.ndarray], str]:
    towards = (camera.eye - camera.target) / np.linalg.norm(camera.eye - camera.target)
    if shots == 1:
        picture, name = invent_light(rng, towards)
        return [picture], name
    start = float(rng.uniform(0, 360))
    room_seed = int(rng.integers(0, 2**31))
    out = []
    for k in range(shots):  # the same room, the lamp moved round between the shots
        at = (start + 360 * k / shots + float(rng.normal(0, 12)), float(rng.uniform(12, 50)))
        out.append(invent_light(np.random.default_rng(room_seed), towards, at)[0])
    return out, "moved lamp"


def bench_mesh(scene: Scene) -> tuple[Mesh, np.ndarray]:
    """The bench as a mesh, and its texture coordinates."""
    mesh = from_grid(scene.bench[:, ::-1], False, np.ones(3), scene.bench_rough, 0.0)
    if mesh.normals[0, 2] < 0:
        mesh = from_grid(scene.bench, False, np.ones(3), scene.bench_rough, 0.0)
    local = mesh.points[:, :2] - scene.bench[..., :2].reshape(-1, 2).mean(0)
    return mesh, (local / SPAN + 0.5).astype(np.float32)

"""Stamps as metal under light, on the GPU: a height field seen by a phone.

Takes drawn tiles, gives grey pictures with their labels; every call shades afresh. Relief turns the
surface normal, the normal picks light from a pre-filtered environment; a laser changes reflectance
and roughness; wear, dirt, brushing, scratches, glare and the camera come on top.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache

import torch
import torch.nn.functional as F

from stampreader.train.camera import camera, from_middle, gauss, pixel_lines, turned
from stampreader.train.dice import Dice, Shader, Thrown

Tensor = torch.Tensor


VISIBLE = 0.6
"""A glyph whose trace in the picture is weaker than this against its surroundings is not taught."""
IGNORED = 0.5
"""Last column of the rows of such glyphs: neither wanted nor held against the network."""
SIZES = (8.0, 150.0)
"""Heights in pixels between which a glyph is taught."""


def move(
    masks: Tensor, glyphs: Tensor, frames: Tensor, s: Shader, level: float = 0.0
) -> tuple[Tensor, Tensor, Tensor]:
    """A random similarity: each use of a drawn tile is another view of it.

    Args:
        masks: (n, 1, T, T) 0..1.
        glyphs: (n, G, 9) rows.
        frames: (n, 12).
        s: luck and size.
        level: share of the tiles whose text is laid level but for a few degrees, either way up, as
            the detector sees what the finder found; the others are turned anyhow.

    Returns:
        The same three, moved.
    """
    n, t = masks.shape[0], masks.shape[-1]
    real = glyphs[..., 8]
    angle = turns(glyphs, s, level)
    grow = torch.exp((s.rand(n) - 0.5) * 0.7)
    c, d = torch.cos(angle) * grow, torch.sin(angle) * grow
    corner = _corner(s)
    middle = torch.full((n, 2), (t - 1) / 2, device=masks.device)
    if s.size[0] < t:  # a low picture follows the text
        weight = real / real.sum(1, keepdim=True).clamp_min(1)
        text_at = (glyphs[..., 1:3] * weight[..., None]).sum(1)
        middle = torch.where(real.sum(1, keepdim=True) > 0, text_at, middle)
    shift = (s.rand(n, 2) - 0.5) * 0.4 * corner
    a = torch.zeros(n, 3, 3, device=masks.device)
    a[:, 0, 0], a[:, 0, 1], a[:, 1, 0], a[:, 1, 1], a[:, 2, 2] = c, -d, d, c, 1
    a[:, :2, 2] = corner / 2 + shift - (a[:, :2, :2] @ middle[:, :, None])[..., 0]
    inverse = torch.linalg.inv(a)
    u, v = turned(*pixel_lines(n, s.size, masks.device), inverse[:, :2, :2])
    grid = torch.stack([u + inverse[:, 0, 2, None, None], v + inverse[:, 1, 2, None, None]], -1)
    masks = F.grid_sample(masks, grid * (2 / (t - 1)) - 1, align_corners=True)
    at = glyphs[..., 1:3] @ a[:, :2, :2].transpose(1, 2) + a[:, None, :2, 2]
    glyphs = moved_rows(glyphs, at, a[:, :2, :2] / grow[:, None, None], grow, corner)
    h = a @ frames[:, :9].view(n, 3, 3)
    frames = torch.cat([h.reshape(n, 9), frames[:, 9:11], frames[:, 11:] * 1.0], 1)
    return masks, glyphs, torch.cat([frames, grow[:, None]], 1)


def turns(glyphs: Tensor, s: Shader, level: float) -> Tensor:
    """(n,) angles that lay the text of a share `level` level, either way up, and turn others anyhow."""
    n, real = glyphs.shape[0], (glyphs[..., 8] > 0).float()
    cos, sin = glyphs[..., 5], glyphs[..., 6]
    text = torch.atan2((2 * cos * sin * real).sum(1), ((cos**2 - sin**2) * real).sum(1)) / 2
    lean = torch.where(s.rand(n) < 0.7, s.normal(n) * 0.045, s.normal(n) * 0.16)
    laid = lean - text + math.pi * (s.rand(n) < 0.5)
    return torch.where(s.rand(n) < level, laid, s.rand(n) * 2 * math.pi)


def moved_rows(glyphs: Tensor, at: Tensor, turn: Tensor, grow: Tensor, corner: Tensor) -> Tensor:
    """Rows after a similarity: what left the picture goes, what is of another size is `IGNORED`.

    Args:
        glyphs: (n, G, 9) rows before.
        at: (n, G, 2) where their middles came to lie.
        turn: (n, 2, 2) rotations, `grow` (n,) how much larger they became.
        corner: (2,) x and y of the last pixel.
    """
    tall = glyphs[..., 3:5] * grow[:, None, None]
    way = glyphs[..., 5:7] @ turn.transpose(1, 2)
    inside = ((at > 1) & (at < corner - 1)).all(-1, keepdim=True)
    taught = (tall[..., :1] > SIZES[0]) & (tall[..., :1] < SIZES[1])
    real = glyphs[..., 8:]
    real = torch.where(taught, real, real.clamp(max=IGNORED)) * inside
    return torch.cat([glyphs[..., :1], at, tall, way, glyphs[..., 7:8], real], -1)


def _corner(s: Shader) -> Tensor:
    """(2,) x and y of the last pixel."""
    return torch.tensor([s.size[1] - 1.0, s.size[0] - 1.0], device=s.device)


def spine_frame(frames: Tensor, size: torch.Size) -> tuple[Tensor, Tensor]:
    """Place of each pixel along and across the spine, (n, 1, h, w) in the spine's pixels."""
    n = frames.shape[0]
    inverse = torch.linalg.inv(frames[:, :9].view(n, 3, 3))[..., None, None]
    x, y = pixel_lines(n, size, frames.device)
    rows = [inverse[:, i, 0] * x + inverse[:, i, 1] * y + inverse[:, i, 2] for i in range(3)]
    x, y = (rows[i] / rows[2].clamp_min(0.05) for i in (0, 1))
    k = frames[:, 9].view(n, 1, 1)
    small = k.abs() < 1e-6
    r = 1 / torch.where(small, torch.ones_like(k), k)
    radius = torch.sqrt(x**2 + (r - y) ** 2) * torch.sign(r)
    along = torch.atan2(x * torch.sign(r), (r - y) * torch.sign(r)) * r
    s = torch.where(small, x, along)
    t = torch.where(small, y, r - radius)
    return s[:, None], t[:, None]


def body(s: Tensor, t: Tensor, half: Tensor, sh: Dice) -> tuple[Tensor, Tensor]:
    """Height of the connector (pixels) and where it is metal (0..1).

    The spine is one straight side of a closed loop; now and then only the bar, or metal all over.
    """
    n = s.shape[0]
    loop = sh.chance(n, 0.5)
    reach = half * sh.between(n, 4, 16)
    width = half * sh.between(n, 3.5, 8) * torch.sign(sh.rand(n, 1, 1, 1) - 0.5)
    offset = (sh.rand(n, 1, 1, 1) - 0.5) * reach
    inner = (t - width / 2).abs() - 0
    corner = (s - offset).abs() - reach
    rho = width.abs() / 2
    ring = (
        torch.where(corner > 0, torch.sqrt(corner.clamp_min(0) ** 2 + (t - width / 2) ** 2), inner)
        - rho
    )
    height, metal = bar(torch.where(loop > 0, ring, t), half, sh)
    whole = sh.chance(n, 0.12) > 0
    flat = half * 0.02 * (t / half).abs()
    return torch.where(whole, flat, height), torch.where(whole, torch.ones_like(metal), metal)


def bar(across: Tensor, half: Tensor, sh: Dice) -> tuple[Tensor, Tensor]:
    """Height and metal of a bar from the distance to its middle line: round, flat or panelled."""
    n = across.shape[0]
    u = (across / half).abs()
    power = sh.spread(n, 1.9, 9)
    thick = half * sh.spread(n, 0.25, 1.1)
    dome = (1 - u.clamp(max=0.999) ** power).clamp_min(1e-4) ** (1 / power.clamp_max(2.4))
    panel = sh.chance(n, 0.25) * sh.between(n, 0.03, 0.22)
    edge = sh.between(n, 0.5, 0.85)
    step = torch.sigmoid((edge - u) * sh.spread(n, 12, 60))
    height = thick * (dome - panel * step)
    return height, torch.sigmoid((1 - u) * half * 1.2)


def relief(masks: Tensor, cap: Tensor, sh: Dice) -> tuple[Tensor, Tensor, Tensor]:
    """What the tool did: height change (pixels), laser strength −1..1, and the floor of the letters."""
    n = masks.shape[0]
    soft = gauss(masks, cap * sh.spread(n, 0.012, 0.07))
    fade = 1 - sh.chance(n, 0.25) * sh.between(n, 0.2, 0.9) * torch.sigmoid(
        2.5 * sh.pick("cloud", _turned(masks, sh))
    )
    depth = cap * sh.spread(n, 0.02, 0.16)
    kind = sh.rand(n, 1, 1, 1)
    sunk, raised, laser = (
        (kind < 0.52).float(),
        ((kind >= 0.52) & (kind < 0.66)).float(),
        (kind >= 0.66).float(),
    )
    burr = sh.chance(n, 0.35) * sh.between(n, 0.1, 0.7)
    wide = gauss(masks, cap * sh.between(n, 0.06, 0.12))
    profile = soft - burr * (wide - soft).clamp_min(0)
    height = (raised - sunk) * depth * profile * fade - laser * sh.chance(
        n, 0.3
    ) * 0.15 * depth * soft
    light = laser * torch.sign(sh.rand(n, 1, 1, 1) - 0.45) * sh.spread(n, 0.16, 1.0) * soft * fade
    inked = sunk * sh.chance(n, 0.22) * sh.between(n, 0.2, 0.9)
    return height, light - inked * soft * fade, soft * sunk * fade


def _turned(like: Tensor, sh: Dice) -> Tensor:
    """A grid in a random turn and scale, for reading a bank."""
    n, size = like.shape[0], max(like.shape[-2:])
    a = sh.rand(n) * 2 * math.pi
    scale = torch.exp((sh.rand(n) - 0.5) * 2.0) * 1.6 / size
    m = torch.stack([torch.cos(a), -torch.sin(a), torch.sin(a), torch.cos(a)], -1).view(n, 2, 2)
    u, v = turned(*pixel_lines(n, like.shape[-2:], like.device), m * scale[:, None, None])
    return torch.stack([u, v], -1) + sh.rand(n, 1, 1, 2) * 4


def _slope(height: Tensor) -> tuple[Tensor, Tensor]:
    padded = F.pad(height, (1, 1, 1, 1), mode="replicate")
    return (padded[..., 1:-1, 2:] - padded[..., 1:-1, :-2]) / 2, (
        padded[..., 2:, 1:-1] - padded[..., :-2, 1:-1]
    ) / 2


def shade(masks: Tensor, frames: Tensor, sh: Shader, period: int = 0) -> Tensor:
    """(n, 1, h, w) masks 0..1 and (n, 13) frames → (n, 1, h, w) grey pictures 0..1 of a phone.

    With a `period` the tile is a stack of level bars of that many pixels, one a line of text.
    """
    return _program(sh)(masks, frames, sh.banks, *sh.throw(masks.shape[0]), period)


def _program(sh: Shader) -> Callable[..., Tensor]:
    """The shader, plain or compiled."""
    return _compiled() if sh.compiled else _shaded


@cache
def _compiled() -> Callable[..., Tensor]:
    """The shader as one fused program: several times quicker on a GPU, a minute to make."""
    program: Callable[..., Tensor] = torch.compile(_shaded, dynamic=False)
    return program


def _shaded(
    masks: Tensor,
    frames: Tensor,
    banks: dict[str, Tensor],
    thrown: Tensor,
    grains: Tensor,
    period: int,
) -> Tensor:
    sh = Thrown(banks, thrown, grains)
    n = masks.shape[0]
    s, t = spine_frame(frames, masks.shape[-2:])
    grow = frames[:, 12].view(n, 1, 1, 1)
    half, cap = frames[:, 10].view(n, 1, 1, 1), frames[:, 11].view(n, 1, 1, 1) * grow
    if period:
        t = (t + masks.shape[-2] / 2).remainder(period) - period / 2 + sh.normal(n, 1, 1, 1) * 3
        half = sh.spread(n, 24, 90)
    height, metal = body(s, t, half, sh) if not period else bar(t, half, sh)
    height = height * grow
    masks = masks * (metal > 0.5) if not period else masks
    cut, laser, floor = relief(masks, cap, sh)
    along = torch.cat([s, t], 1).permute(0, 2, 3, 1) / (
        200 * torch.exp((sh.rand(n, 1, 1, 1) - 0.5) * 1.6)
    )
    swap = sh.chance(n, 0.25).bool()
    along = torch.where(swap, along.flip(-1), along) + sh.rand(n, 1, 1, 2) * 4
    brushed = sh.pick("brush", along)
    cloud = sh.pick("cloud", _turned(masks, sh))
    scratch = sh.pick("scratch", _turned(masks, sh)) * sh.chance(n, 0.65)
    fine = (
        sh.spread(n, 0.003, 0.12) * brushed * sh.chance(n, 0.7)
        + sh.spread(n, 0.01, 0.5) * cloud * sh.chance(n, 0.6)
        - sh.spread(n, 0.05, 0.9) * scratch
    )
    base_x, base_y = _slope(height)
    cut_x, cut_y = _slope(cut + fine * grow.clamp(0.7, 1.4) * 0.8)
    gx, gy = base_x.clamp(-3, 3) + cut_x, base_y.clamp(-3, 3) + cut_y
    gx = gx + sh.normal(n, 1, 1, 1) * 0.12
    gy = gy + sh.normal(n, 1, 1, 1) * 0.12
    scale = 1 / torch.sqrt(gx**2 + gy**2 + 1)
    nx, ny = -gx * scale, -gy * scale
    nx = nx + sh.grain() * sh.spread(n, 0.001, 0.06)
    drift = from_middle(n, sh) * sh.normal(n, 1, 1, 1) * 0.25
    uv = torch.stack([nx[:, 0], ny[:, 0]], -1) * (0.75 + 0.2 * sh.rand(n, 1, 1, 1)) + drift
    index = (sh.rand(n) * sh.banks["light"].shape[0]).long()
    levels = F.grid_sample(sh.banks["light"][index], uv, padding_mode="border", align_corners=False)
    rough = (
        sh.rand(n, 1, 1, 1) ** 1.5 * 1.1 + laser.abs() * sh.chance(n, 0.6) * 0.7 + 0.1 * cloud
    ).clamp(0, 1)
    sharp = torch.lerp(levels[:, :1], levels[:, 1:2], (rough * 2).clamp(0, 1))
    seen = torch.lerp(sharp, levels[:, 2:], (rough * 2 - 1).clamp(0, 1))
    albedo = sh.spread(n, 0.12, 1.0) * (1 + 0.12 * cloud * sh.chance(n, 0.6))
    worn = torch.sigmoid((sh.pick("cloud", _turned(masks, sh)) - sh.between(n, 0.5, 3)) * 6)
    albedo = torch.lerp(albedo, torch.full_like(albedo, 0.9), worn * sh.chance(n, 0.3))
    change = torch.where(laser > 0, laser * sh.between(n, 0.3, 2.0), laser * 0.85)
    albedo = (albedo * (1 + change) + laser.clamp_min(0) * 0.25).clamp(0.02, 1.6)
    hollow = (gauss(cut, cap * 0.12) - cut).clamp_min(0) / (0.03 * cap)
    shadow = 1 - (hollow * sh.between(n, 0, 0.5)).clamp(0, 0.75)
    dirt = (
        floor
        * sh.chance(n, 0.35)
        * sh.between(n, 0.2, 0.95)
        * torch.sigmoid(3 * sh.pick("cloud", _turned(masks, sh)) + 1)
    )
    matt = sh.chance(n, 0.3) * sh.between(n, 0.2, 0.8)
    seen = torch.lerp(seen, levels[:, 2:] * 0.6, matt)
    picture = seen * albedo * shadow * (1 - dirt)
    bench = sh.pick("bench", _turned(masks, sh)) * sh.between(n, 0.1, 1.1)
    near = gauss(F.interpolate(metal, scale_factor=0.25, mode="area"), sh.between(n, 1, 5))
    bench = bench * (
        1 - 0.7 * F.interpolate(near, size=masks.shape[-2:], mode="bilinear", align_corners=False)
    )
    picture = torch.lerp(bench, picture, metal)
    return camera(picture, metal, sh)


def shade_and_mark(
    masks: Tensor, glyphs: Tensor, frames: Tensor, sh: Shader, period: int = 0
) -> tuple[Tensor, Tensor]:
    """Pictures, and the glyph rows with those marked that nobody could see.

    Each tile is shaded a second time with the same dice and no stamp; what differs is the trace
    the stamp leaves. Its strength at a glyph (the middle, and towards its four sides), over the
    unrest of the metal there, is compared with `VISIBLE`.
    """
    draw = _program(sh)
    luck = sh.throw(masks.shape[0])
    pictures = draw(masks, frames, sh.banks, *luck, period)
    bare = draw(torch.zeros_like(masks), frames, sh.banks, *luck, period)
    cap = (frames[:, 11] * frames[:, 12]).view(-1, 1, 1, 1)
    trace = gauss((pictures - bare) ** 2, cap * 0.3).sqrt()
    rough = bare - gauss(bare, cap * 0.3)
    most = 2.5 * trace + 0.01  # a lone edge of the bar, however bright, hides nothing beside it
    unrest = gauss(rough.clamp(-most, most) ** 2, cap * 0.6).sqrt()
    way, size = glyphs[..., 5:7], 0.35 * glyphs[..., 3:5]
    along, down = way * size[..., 1:], torch.stack([-way[..., 1], way[..., 0]], -1) * size[..., :1]
    places = glyphs[..., None, 1:3] + torch.stack([0 * way, along, -along, down, -down], -2)
    at = places / _corner(sh) * 2 - 1
    strength = F.grid_sample(trace / (unrest + 0.008), at, align_corners=True)[:, 0].amax(-1, True)
    seen = torch.where(strength > VISIBLE, 1.0, IGNORED)
    return pictures, torch.cat([glyphs[..., :8], glyphs[..., 8:] * seen], -1)

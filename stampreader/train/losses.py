"""What each network is asked to get right."""

from __future__ import annotations

from collections.abc import Sequence

import torch
import torch.nn.functional as F

from stampreader.train.dice import Shader
from stampreader.train.draw import STRIP, STRIPS
from stampreader.train.model import HEADS
from stampreader.train.shade import IGNORED

Tensor = torch.Tensor
CELL = 4  # pixels a cell of the detector's map
FINDER_CELL = 8  # the same of the finder
BARE = 0.4  # benches alone that the finder is shown, for each shaded tile


def _around(
    glyphs: Tensor, cells: Sequence[int], cell: int, reach: int, least: float = 0.9
) -> tuple[Tensor, ...]:
    """Cells near each glyph that is there: sample, row, column, weight (R, K), the rows (R, 9)."""
    sample = torch.arange(glyphs.shape[0], device=glyphs.device)[:, None].expand(glyphs.shape[:2])
    real = glyphs[..., 8] > least
    rows, sample = glyphs[real], sample[real]
    at = (rows[:, 1:3] + 0.5) / cell - 0.5
    sigma = (rows[:, 3] / cell * 0.1).clamp(0.45, 1.2)
    steps = torch.arange(-reach, reach + 1, device=glyphs.device)
    dy, dx = torch.meshgrid(steps, steps, indexing="ij")
    base = torch.round(at)
    x = base[:, :1] + dx.reshape(1, -1)
    y = base[:, 1:] + dy.reshape(1, -1)
    far = (x - at[:, :1]) ** 2 + (y - at[:, 1:]) ** 2
    weight = torch.exp(-far / (2 * sigma[:, None] ** 2))
    nearest = torch.zeros_like(weight)
    nearest[:, weight.shape[1] // 2] = 1
    weight = torch.maximum(weight, nearest)
    h, w = cells
    inside = (x >= 0) & (y >= 0) & (x < w) & (y < h)
    return sample, y.clamp(0, h - 1).long(), x.clamp(0, w - 1).long(), weight * inside, rows


def detector(raw: Tensor, glyphs: Tensor) -> dict[str, Tensor]:
    """Losses of the detector: raw (n, C, h, w), glyphs (n, G, 9)."""
    raw = raw.float()
    n, _, *cells = raw.shape
    heat = raw[:, 0]
    sample, y, x, weight, rows = _around(glyphs, cells, CELL, 3)
    target = _spread(n, cells, (sample, y, x), weight)
    faint = _ignored(glyphs, cells, CELL)
    p = torch.sigmoid(heat)
    hit = target > 0.999
    missed = F.softplus(-heat) * (1 - p) ** 2 * hit
    extra = F.softplus(heat) * p**2 * (1 - target) ** 4 * ~hit * ~faint
    count = hit.sum().clamp_min(1)
    near = weight.shape[1] // 2 + torch.tensor([-8, -7, -6, -1, 0, 1, 6, 7, 8], device=raw.device)
    y, x, weight = y[:, near], x[:, near], weight[:, near]
    weight = weight * (weight > 0.3)
    total = weight.sum().clamp_min(1)
    got = raw.permute(0, 2, 3, 1)[sample[:, None], y, x]  # (R, 9, C)
    ends = torch.cumsum(torch.tensor([0, *HEADS.values()]), 0).tolist()
    part = {k: got[..., a:b] for k, a, b in zip(HEADS, ends, ends[1:], strict=False)}

    def classed(logits: Tensor, column: int) -> Tensor:
        wanted = rows[:, column].long()[:, None].expand(weight.shape).reshape(-1)
        loss = F.cross_entropy(
            logits.reshape(len(wanted), -1), wanted, reduction="none", label_smoothing=0.01
        )
        return (loss * weight.reshape(-1)).sum() / total

    at = (rows[:, 1:3] + 0.5) / CELL - 0.5
    offset = at[:, None] - torch.stack([x, y], -1)
    size = torch.log(rows[:, 3:5].clamp_min(2) / 32)[:, None]
    way = F.normalize(part["way"], dim=-1)
    square = weight[..., None]
    return {
        "heat": (missed.sum() + extra.sum()) / count,
        "cls": classed(part["cls"], 0),
        "role": 0.6 * classed(part["role"], 7),
        "offset": 0.5 * ((part["offset"] - offset).abs() * square).sum() / total,
        "size": 0.7 * ((part["size"] - size).abs() * square).sum() / total,
        "way": ((1 - (way * rows[:, None, 5:7]).sum(-1)) * weight).sum() / total
        + 0.02 * ((part["way"].norm(dim=-1) - 1) ** 2 * weight).sum() / total,
    }


def _spread(
    n: int, cells: Sequence[int], at: tuple[Tensor, Tensor, Tensor], weight: Tensor
) -> Tensor:
    """(n, h, w) map of the largest weight laid on each cell."""
    sample, y, x = at
    flat = (sample[:, None] * cells[0] + y) * cells[1] + x
    target = torch.zeros(n * cells[0] * cells[1], device=weight.device)
    target.scatter_reduce_(0, flat.reshape(-1), weight.reshape(-1), "amax")
    return target.view(n, *cells)


def _ignored(glyphs: Tensor, cells: Sequence[int], cell: int) -> Tensor:
    """(n, h, w) places of glyphs that nobody could see: no loss either way."""
    lost = glyphs.clone()
    lost[..., 8] = ((glyphs[..., 8] > 0.1) & (glyphs[..., 8] < 0.9)).float()
    out = torch.zeros(glyphs.shape[0], *cells, dtype=torch.bool, device=glyphs.device)
    sample, y, x, _, _ = _around(lost, cells, cell, 2 if cell == CELL else 1)
    out[sample[:, None].expand(y.shape), y, x] = True
    return out


def shrink(pictures: Tensor) -> tuple[Tensor, float]:
    """Pictures as the finder sees a whole photo: a little to four times smaller. Returns the factor."""
    side = int(torch.randint(6, 21, (1,))) * 16
    return F.interpolate(pictures, size=(side, side), mode="area"), side / pictures.shape[-1]


def with_bare(small: Tensor, glyphs: Tensor, sh: Shader) -> tuple[Tensor, Tensor]:
    """A batch of the finder with benches added that nothing lies on: cheap, and nothing is written.

    Args:
        small: (n, 1, side, side) shrunk pictures.
        glyphs: (n, G, 9) their rows.
        sh: shader whose benches and dice are used.

    Returns:
        The same with `BARE` times as many pictures and empty rows behind.
    """
    count, side = max(1, round(BARE * len(small))), small.shape[-1]
    line = torch.linspace(-1, 1, side, device=small.device)
    y, x = torch.meshgrid(line, line, indexing="ij")
    turn = 2 * torch.pi * sh.rand(count, 1, 1)
    cos, sin = torch.cos(turn), torch.sin(turn)
    grow = sh.spread(count, 0.5, 2.0)[..., 0] * side / sh.banks["bench"].shape[-1]
    uv = torch.stack([x * cos - y * sin, x * sin + y * cos], -1) * grow[..., None]
    bench = sh.pick("bench", uv + 4 * sh.rand(count, 1, 1, 2))
    bench = (bench - bench.mean((2, 3), keepdim=True)) * sh.spread(count, 0.4, 2.5)
    bench = bench + sh.between(count, 0.1, 0.9)
    bench = bench + sh.normal(*bench.shape) * sh.spread(count, 0.002, 0.06)
    empty = torch.zeros(count, *glyphs.shape[1:], device=glyphs.device)
    return torch.cat([small, bench.clamp(0, 1)]), torch.cat([glyphs, empty])


def finder(raw: Tensor, glyphs: Tensor, factor: float) -> dict[str, Tensor]:
    """Losses of the finder on pictures shrunk by `factor`."""
    raw = raw.float()
    n, _, *cells = raw.shape
    small = glyphs.clone()
    small[..., 1:3] = (glyphs[..., 1:3] + 0.5) * factor - 0.5
    small[..., 3:5] *= factor
    tiny = (small[..., 3] < 3.5) & (glyphs[..., 8] > 0.1)
    small[..., 8] = glyphs[..., 8] * ~tiny
    sample, y, x, weight, rows = _around(small, cells, FINDER_CELL, 1)
    reach = (rows[:, 3] / FINDER_CELL * 0.6).clamp(0.75, 2.0)[:, None]
    mark = (weight > torch.exp(-0.5 * (reach / 0.45) ** 2)).float()
    target = _spread(n, cells, (sample, y, x), mark)
    lost = small.clone()
    lost[..., 8] = torch.where(tiny, IGNORED, glyphs[..., 8])
    ignore = _ignored(lost, cells, FINDER_CELL).float()
    loss = F.binary_cross_entropy_with_logits(
        raw[:, 0], target, reduction="none", pos_weight=torch.tensor(3.0, device=raw.device)
    )
    got = raw.permute(0, 2, 3, 1)[sample[:, None], y, x]
    on = mark * (weight > 0)
    total = on.sum().clamp_min(1)
    size = torch.log(rows[:, 3] / 8)[:, None]
    double = torch.stack([rows[:, 5] ** 2 - rows[:, 6] ** 2, 2 * rows[:, 5] * rows[:, 6]], -1)[
        :, None
    ]
    return {
        "heat": (loss * (1 - ignore * (1 - target))).mean() * 4,
        "size": ((got[..., 1] - size).abs() * on).sum() / total,
        "way": ((got[..., 2:4] - double).abs().sum(-1) * on).sum() / total * 0.5,
    }


CUT = (-7.0, 20.0)
"""Distances in pixels of a character's middle beyond the end of a strip between which it is cut through."""
KEPT = 0.7
"""Share of the strips of a batch that the line reader is shown: about as many can be read."""


def strips(pictures: Tensor, glyphs: Tensor, sh: Shader) -> tuple[Tensor, tuple[Tensor, ...]]:
    """Cut each tile into its lines, each a little longer, shorter, taller or lower than drawn.

    Returns:
        (KEPT·n·STRIPS, 1, 48, w) strips; their class sequences in one row, the length of each, and
        for each whether it is taught: not where a character could not be seen or is cut through.
        Those that are taught come first, and the last are left out.
    """
    n, _, _, w = pictures.shape
    cut = pictures.view(n, STRIPS, STRIP, w)
    jitter = (sh.rand(n, STRIPS) - 0.5) * 6
    grow = torch.exp(sh.rand(n, STRIPS) * 0.36 - 0.22)
    shift = sh.normal(n, STRIPS) * 0.03
    taller = torch.exp(sh.normal(n * STRIPS, 1) * 0.07).clamp(0.85, 1.18)
    line = torch.linspace(-1, 1, w, device=pictures.device)
    line = line / grow.reshape(-1, 1) + shift.reshape(-1, 1)
    rows = (torch.arange(48, device=pictures.device) - 23.5)[None] / taller + jitter.reshape(-1, 1)
    tall = rows * 2 / STRIP
    grid = torch.stack(torch.broadcast_tensors(line[:, None], tall[:, :, None]), -1)
    out = F.grid_sample(
        cut.reshape(n * STRIPS, 1, STRIP, w), grid, padding_mode="border", align_corners=True
    )
    row = torch.arange(n, device=glyphs.device)[:, None]
    strip = glyphs[..., 2].long()
    half = (w - 1) / 2
    at = ((glyphs[..., 1] / half - 1) - shift[row, strip]) * grow[row, strip] * half
    beyond = at.abs() - half
    real = (glyphs[..., 8] > 0.1) & (beyond < CUT[0])
    halved = (glyphs[..., 8] > 0.1) & (beyond >= CUT[0]) & (beyond < CUT[1])
    which = row * STRIPS + strip
    length = torch.zeros(n * STRIPS, dtype=torch.long, device=glyphs.device)
    length.scatter_add_(0, which[real], torch.ones_like(which[real]))
    taught = torch.ones(n * STRIPS, device=glyphs.device)
    taught[which[halved | (real & (glyphs[..., 8] < 0.9))]] = 0
    kept = torch.argsort(taught, descending=True, stable=True)[: round(KEPT * n * STRIPS)]
    rank = torch.full_like(length, -1)
    rank[kept] = torch.arange(len(kept), device=rank.device)
    real &= rank[which] >= 0
    order = torch.argsort(rank[which][real], stable=True)
    classes = glyphs[..., 0][real].long()[order] + 1
    return out[kept], (classes, length[kept], taught[kept])


def line(raw: Tensor, targets: tuple[Tensor, ...]) -> dict[str, Tensor]:
    """CTC loss: raw (n, C, steps); sequences concatenated, their lengths, 1 for those taught."""
    classes, length, taught = targets
    scores = F.log_softmax(raw.float(), 1).permute(2, 0, 1)
    steps = torch.full((raw.shape[0],), raw.shape[2], dtype=torch.long, device=raw.device)
    loss = F.ctc_loss(scores, classes, steps, length, blank=0, reduction="none", zero_infinity=True)
    return {"ctc": (loss / length.clamp_min(1) * taught).sum() / taught.sum().clamp_min(1)}

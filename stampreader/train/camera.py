"""What a phone makes of a picture: exposure, glare, blur, noise, sharpening and JPEG; on the GPU."""

from __future__ import annotations

import math

import torch
import torch.nn.functional as F

from stampreader.train.dice import Dice, Thrown

Tensor = torch.Tensor


def gauss(x: Tensor, sigma: Tensor) -> Tensor:
    """Gaussian blur of (n, 1, h, w) with one sigma (n, 1, 1, 1) a sample, weights cut at the edges.

    As two products with a band matrix: on a GPU far quicker than one convolution a sample.
    """
    n, _, h, w = x.shape
    half = 0.5 / sigma.view(n, 1, 1).clamp_min(0.05) ** 2

    def band(size: int) -> Tensor:
        line = torch.arange(size, device=x.device, dtype=x.dtype)
        weights = torch.exp(-half * (line[:, None] - line[None]) ** 2)
        return weights / weights.sum(2, keepdim=True)

    across = band(w)
    down = across if h == w else band(h)
    return (down @ x[:, 0] @ across.transpose(1, 2))[:, None]


def turned(x: Tensor, y: Tensor, m: Tensor) -> tuple[Tensor, Tensor]:
    """(n, h, w) coordinates times (n, 2, 2) matrices."""
    a = m[:, :, :, None, None]
    return a[:, 0, 0] * x + a[:, 0, 1] * y, a[:, 1, 0] * x + a[:, 1, 1] * y


def pixel_lines(
    n: int, size: tuple[int, int] | torch.Size, device: torch.device
) -> tuple[Tensor, Tensor]:
    """(n, h, w) x and y of each pixel of pictures of a size (h, w)."""
    down, along = (torch.arange(side, device=device, dtype=torch.float32) for side in size)
    y, x = torch.meshgrid(down, along, indexing="ij")
    return x.expand(n, -1, -1), y.expand(n, -1, -1)


def from_middle(n: int, sh: Thrown) -> Tensor:
    """(n, h, w, 2) place in the picture, the longer side −0.5 to 0.5."""
    size = sh.grains.shape[-2:]
    middle = torch.tensor([size[1] / 2, size[0] / 2], device=sh.grains.device)
    return (torch.stack(pixel_lines(n, size, sh.grains.device), -1) - middle) / max(size)


def camera(picture: Tensor, metal: Tensor, sh: Thrown) -> Tensor:
    """Exposure, glare, blur, noise, sharpening and JPEG of a phone; 0..1."""
    n, size = picture.shape[0], picture.shape[-2:]
    weight = torch.where(sh.chance(n, 0.8) > 0, metal + 1e-3, torch.ones_like(metal)).flatten(1)
    level = (picture.flatten(1) * weight).sum(1) / weight.sum(1)
    picture = picture / level.view(n, 1, 1, 1).clamp_min(0.02) * sh.between(n, 0.16, 0.62)
    fade = from_middle(n, sh) * sh.normal(n, 1, 1, 2) * 0.7
    picture = picture * torch.exp(fade.sum(-1))[:, None]
    a = sh.rand(n) * math.pi
    turn = torch.stack([torch.cos(a), -torch.sin(a), torch.sin(a), torch.cos(a)], -1).view(n, 2, 2)
    x, y = pixel_lines(n, size, picture.device)
    spot = sh.rand(n, 2, 1, 1) * max(size)
    lobe = torch.stack(turned(x - spot[:, 0], y - spot[:, 1], turn), -1)
    lobe = lobe / torch.exp(sh.rand(n, 1, 1, 2) * 2.6 + 2.0)
    glare = (
        torch.exp(-0.5 * (lobe**2).sum(-1))[:, None] * sh.spread(n, 0.05, 2.5) * sh.chance(n, 0.35)
    )
    picture = picture + glare
    spread = gauss(picture, sh.spread(n, 0.25, 2.1) * sh.chance(n, 0.75) + 0.05)
    out = _motion(spread, sh.chance(n, 0.15), sh)
    out = torch.where(sh.chance(n, 0.3).bool(), 1 - torch.exp(-out * 1.3), out.clamp(0, 1.0))
    noise = sh.spread(n, 0.002, 0.04)
    out = out + sh.grain() * noise * (0.3 + out.clamp_min(0).sqrt())
    grain = gauss(sh.grain(), torch.full((n, 1, 1, 1), 0.8, device=out.device))
    out = out + grain * noise * sh.chance(n, 0.5)
    out = out + (out - gauss(out, torch.full((n, 1, 1, 1), 1.2, device=out.device))) * sh.between(
        n, 0, 1.6
    ) * sh.chance(n, 0.5)
    out = out.clamp(0, 1) ** sh.spread(n, 0.55, 1.5)
    return jpeg(out, sh).clamp(0, 1)


def _motion(x: Tensor, dragged: Tensor, sh: Dice) -> Tensor:
    """A short straight drag of the camera, where `dragged` (n, 1, 1, 1) is one."""
    n, (high, wide) = x.shape[0], x.shape[-2:]
    a = sh.rand(n) * 2 * math.pi
    way = torch.stack([torch.cos(a) / wide, torch.sin(a) / high], -1)
    way = way * (sh.rand(n, 1) * 5 + 1) * 2 * dragged[:, :, 0, 0]
    down, along = (torch.linspace(-1, 1, side, device=x.device) for side in (high, wide))
    y, g = torch.meshgrid(down, along, indexing="ij")
    grid = torch.stack([g, y], -1).expand(n, -1, -1, -1)
    parts = [
        F.grid_sample(x, grid + way.view(n, 1, 1, 2) * k, padding_mode="border", align_corners=True)
        for k in (-0.5, -0.25, 0, 0.25, 0.5)
    ]
    return torch.stack(parts).mean(0)


def _dct(device: torch.device) -> Tensor:
    k = torch.arange(8, device=device, dtype=torch.float32)
    m = torch.cos((2 * k[None] + 1) * k[:, None] * math.pi / 16) * 0.5
    m[0] *= 1 / math.sqrt(2)
    return m


def jpeg(x: Tensor, sh: Dice) -> Tensor:
    """Quantise 8×8 blocks as JPEG does (ITU-T T.81, annex K, luminance), quality 35 to 96."""
    n, _, h, w = x.shape
    table = torch.tensor(
        [16, 11, 10, 16, 24, 40, 51, 61, 12, 12, 14, 19, 26, 58, 60, 55, 14, 13, 16, 24, 40, 57, 69, 56,
         14, 17, 22, 29, 51, 87, 80, 62, 18, 22, 37, 56, 68, 109, 103, 77, 24, 35, 55, 64, 81, 104, 113, 92,
         49, 64, 78, 87, 103, 121, 120, 101, 72, 92, 95, 98, 112, 100, 103, 99],
        device=x.device, dtype=torch.float32,
    ).view(8, 8)  # fmt: skip
    quality = sh.between(n, 35, 96)
    factor = torch.where(quality < 50, 50 / quality, 2 - quality / 50).view(n, 1, 1, 1, 1)
    q = (table * factor).clamp_min(1)
    m = _dct(x.device)

    def twice(blocks: Tensor, by: Tensor) -> Tensor:
        """(…, 8, 8) blocks multiplied along both sides, as two plain products."""
        return ((blocks @ by).transpose(-1, -2).contiguous() @ by).transpose(-1, -2)

    blocks = (x * 255 - 128).view(n, h // 8, 8, w // 8, 8).permute(0, 1, 3, 2, 4).contiguous()
    coded = torch.round(twice(blocks, m.T) / q) * q
    back = twice(coded, m).permute(0, 1, 3, 2, 4).reshape(n, 1, h, w)
    return torch.where(sh.chance(n, 0.7).bool(), (back + 128) / 255, x)

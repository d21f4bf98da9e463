"""Shaded tiles kept on the device: each serves several steps, always moved and exposed otherwise.

Shading costs more than a step of a network. Drawn from a large ring, the pictures of one step have
nothing to do with each other, and one that comes again does so some hundred steps later.
"""

from __future__ import annotations

import torch
import torch.nn.functional as F

from stampreader.train.camera import pixel_lines
from stampreader.train.dice import Shader
from stampreader.train.shade import moved_rows

Tensor = torch.Tensor


LEGIBLE, SPARED = 0.35, 0.15
"""Least share of a tile's characters that can be seen, and the share of other tiles kept all the same."""


def legible(glyphs: Tensor) -> Tensor:
    """(n,) share of the characters of each tile that can be seen; 1 for a tile without any."""
    there = (glyphs[..., 8] > 0.1).sum(1)
    return torch.where(there > 0, (glyphs[..., 8] > 0.9).sum(1) / there.clamp_min(1), 1.0)


class Album:
    """A ring of shaded tiles.

    Args:
        kept: tiles held.
        size: their height and width, pixels.
        most: glyph rows a tile.
        device: where they are held.
    """

    def __init__(self, kept: int, size: tuple[int, int], most: int, device: torch.device) -> None:
        self.kept, self.filled, self.at = kept, 0, 0
        self.pictures = torch.zeros(kept, 1, *size, dtype=torch.uint8, device=device)
        self.glyphs = torch.zeros(kept, most, 9, device=device)

    def put(self, pictures: Tensor, glyphs: Tensor) -> None:
        """Take in (n, 1, h, w) pictures 0..1 and (n, G, 9) rows, in the place of the oldest.

        Of tiles on which hardly anything can be seen most are left out: they teach next to nothing.
        """
        worth = legible(glyphs) > LEGIBLE
        worth |= torch.rand(len(worth), device=worth.device) < SPARED
        pictures, glyphs = pictures[worth], glyphs[worth]
        count = min(len(pictures), self.kept)
        slots = (torch.arange(count, device=self.pictures.device) + self.at) % self.kept
        self.pictures[slots] = (pictures[:count] * 255).round().to(torch.uint8)
        self.glyphs[slots] = glyphs[:count]
        self.at = (self.at + count) % self.kept
        self.filled = min(self.filled + count, self.kept)

    def batch(self, count: int, sh: Shader) -> tuple[Tensor, Tensor]:
        """`count` of them at random: pictures 0..1 and rows."""
        pick = torch.randint(
            self.filled, (count,), generator=sh.generator, device=self.pictures.device
        )
        return self.pictures[pick].float() / 255, self.glyphs[pick]


def exposed(pictures: Tensor, sh: Shader) -> Tensor:
    """The same pictures, most with another exposure, contrast and a little fresh noise."""
    n = pictures.shape[0]
    other = pictures ** sh.spread(n, 0.6, 1.6)
    other = (other - 0.5) * sh.between(n, 0.5, 1.2) + sh.between(n, 0.3, 0.7)
    other = (other + sh.normal(*pictures.shape) * sh.spread(n, 0.003, 0.03)).clamp(0, 1)
    return torch.where(sh.chance(n, 0.6) > 0, other, pictures)


def quartered(pictures: Tensor, glyphs: Tensor, turns: int) -> tuple[Tensor, Tensor]:
    """Pictures and rows turned by quarters, to the left."""
    if not turns:
        return pictures, glyphs
    sides = pictures.shape[-2:]
    pictures = torch.rot90(pictures, turns, (2, 3))
    kind, x, y, tall, wide, cos, sin, role, real = glyphs.unbind(-1)
    for _ in range(turns):
        x, y, cos, sin = y, sides[1] - 1 - x, sin, -cos
        sides = sides[::-1]
    return pictures, torch.stack([kind, x, y, tall, wide, cos, sin, role, real], -1)


def nudged(pictures: Tensor, glyphs: Tensor, sh: Shader) -> tuple[Tensor, Tensor]:
    """Pictures and rows turned by a few degrees, shifted, and grown or shrunk a little.

    A row whose middle leaves the picture goes; one of a size that is not taught is `IGNORED`.
    """
    n, _, h, w = pictures.shape
    angle = sh.normal(n) * 0.035
    grow = torch.exp((sh.rand(n) - 0.5) * 0.36)
    cos, sin = torch.cos(angle), torch.sin(angle)
    turn = torch.stack([torch.stack([cos, -sin], -1), torch.stack([sin, cos], -1)], -2)
    middle = torch.tensor([(w - 1) / 2, (h - 1) / 2], device=pictures.device)
    to = middle + (sh.rand(n, 2) - 0.5) * 28
    x, y = pixel_lines(n, pictures.shape[-2:], pictures.device)
    away = torch.stack([x, y], -1) - to[:, None, None]
    back = (away @ turn[:, None]) / grow[:, None, None, None] + middle
    grid = back * 2 / (middle * 2) - 1
    pictures = F.grid_sample(pictures, grid, padding_mode="border", align_corners=True)
    at = (glyphs[..., 1:3] - middle) @ turn.transpose(1, 2) * grow[:, None, None] + to[:, None]
    return pictures, moved_rows(glyphs, at, turn, grow, middle * 2)

"""Random numbers for the shader: thrown as needed, or all thrown beforehand.

What is thrown beforehand makes the shader a plain function of tensors: it can be compiled, and
shaded again with the same luck.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from dataclasses import dataclass

import torch
import torch.nn.functional as F

Tensor = torch.Tensor
THROWS = 320
"""Numbers a sample the shader may ask for."""
GRAINS = 4
"""Pictures of normal noise a sample it may ask for."""


class Dice(ABC):
    """Ways to ask for random numbers; `rand` and `banks` come from the two kinds below."""

    banks: dict[str, Tensor]

    @abstractmethod
    def rand(self, n: int, *shape: int) -> Tensor:
        """(n, *shape) uniform numbers in [0, 1)."""

    def normal(self, n: int, *shape: int) -> Tensor:
        """(n, *shape) normal numbers."""
        u = self.rand(n, *shape).clamp(1e-6, 1 - 1e-6)
        return math.sqrt(2) * torch.erfinv(2 * u - 1)

    def between(self, n: int, low: float, high: float) -> Tensor:
        """(n, 1, 1, 1) uniform numbers in [low, high)."""
        return low + (high - low) * self.rand(n, 1, 1, 1)

    def spread(self, n: int, low: float, high: float) -> Tensor:
        """(n, 1, 1, 1) numbers even in the logarithm."""
        return torch.exp(self.between(n, math.log(low), math.log(high)))

    def chance(self, n: int, p: float) -> Tensor:
        """(n, 1, 1, 1) ones with probability p, else zeros."""
        return (self.rand(n, 1, 1, 1) < p).float()

    def pick(self, bank: str, grid: Tensor) -> Tensor:
        """One random picture of a bank for each sample, read at `grid` (n, H, W, 2) in its own turns."""
        pictures = self.banks[bank]
        index = (self.rand(grid.shape[0]) * pictures.shape[0]).long()
        wrapped = (grid * 0.5 + 0.5).remainder(2.0)
        mirrored = torch.where(wrapped > 1, 2 - wrapped, wrapped) * 2 - 1
        return F.grid_sample(pictures[index][:, None], mirrored, align_corners=False)


@dataclass
class Shader(Dice):
    """Banks on the device, height and width of its pictures, and a generator to throw with."""

    banks: dict[str, Tensor]
    size: tuple[int, int]
    generator: torch.Generator
    device: torch.device
    compiled: bool = False

    def rand(self, n: int, *shape: int) -> Tensor:
        """(n, *shape) uniform numbers in [0, 1)."""
        return torch.rand(n, *shape, generator=self.generator, device=self.device)

    def normal(self, n: int, *shape: int) -> Tensor:
        """(n, *shape) normal numbers."""
        return torch.randn(n, *shape, generator=self.generator, device=self.device)

    def throw(self, n: int) -> tuple[Tensor, Tensor]:
        """Luck for n samples: (n, THROWS) uniform and (n, GRAINS, h, w) normal numbers."""
        return self.rand(n, THROWS), self.normal(n, GRAINS, *self.size)


class Thrown(Dice):
    """Luck thrown beforehand, dealt out in order."""

    def __init__(self, banks: dict[str, Tensor], thrown: Tensor, grains: Tensor) -> None:
        """Take (n, THROWS) uniform numbers and (n, GRAINS, h, w) normal ones."""
        self.banks, self.thrown, self.grains = banks, thrown, grains
        self.at = self.grain_at = 0

    def rand(self, n: int, *shape: int) -> Tensor:
        """(n, *shape) uniform numbers in [0, 1)."""
        count = math.prod(shape)
        self.at += count
        return self.thrown[:, self.at - count : self.at].reshape(n, *shape)

    def grain(self) -> Tensor:
        """(n, 1, h, w) normal numbers."""
        self.grain_at += 1
        return self.grains[:, self.grain_at - 1 : self.grain_at]

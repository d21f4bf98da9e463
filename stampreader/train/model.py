"""The three networks: glyph detector, finder of stamped places, line reader. Convolutions only."""

from __future__ import annotations

import torch
import torch.nn as nn
import torch.nn.functional as F

from stampreader.reader.alphabet import CLASSES, ROLES
from stampreader.reader.prepare import AROUND, CALM, CHANNELS, STRONGEST

Tensor = torch.Tensor
HEADS = {"heat": 1, "cls": len(CLASSES), "role": len(ROLES), "offset": 2, "size": 2, "way": 2}
"""Detector outputs, channels each: is a glyph centred here, which, whose figure, exact place
(fractions of a cell), log height and log width (of 32 pixels), reading direction (cos, sin)."""


def conv(a: int, b: int, k: int = 3, stride: int = 1) -> nn.Sequential:
    """Convolution, batch normalisation, ReLU."""
    return nn.Sequential(
        nn.Conv2d(a, b, k, stride, k // 2, bias=False), nn.BatchNorm2d(b), nn.ReLU(inplace=True)
    )


class Block(nn.Module):
    """Two 3×3 convolutions round a shortcut."""

    def __init__(self, c: int) -> None:
        super().__init__()
        self.a = conv(c, c)
        self.b = nn.Sequential(nn.Conv2d(c, c, 3, 1, 1, bias=False), nn.BatchNorm2d(c))

    def forward(self, x: Tensor) -> Tensor:
        """(n, c, h, w) → the same shape."""
        return F.relu(x + self.b(self.a(x)))


def stage(a: int, b: int, depth: int) -> nn.Sequential:
    """Halve the size, then `depth` blocks."""
    return nn.Sequential(conv(a, b, 3, 2), *[Block(b) for _ in range(depth)])


class Detector(nn.Module):
    """Glyphs of a grey picture: a four-level pyramid with heads at a quarter of its size."""

    def __init__(
        self, width: tuple[int, int, int, int, int] = (24, 40, 72, 128, 192), fuse: int = 64
    ) -> None:
        super().__init__()
        w = width
        self.stem = conv(CHANNELS, w[0], 3, 2)
        self.s4 = stage(w[0], w[1], 2)
        self.s8 = stage(w[1], w[2], 2)
        self.s16 = stage(w[2], w[3], 3)
        self.s32 = stage(w[3], w[4], 2)
        self.lateral = nn.ModuleList([nn.Conv2d(c, fuse, 1) for c in w[1:]])
        self.smooth = nn.ModuleList([conv(fuse, fuse) for _ in range(3)])
        self.neck = conv(fuse, 96)
        self.head = nn.Conv2d(96, sum(HEADS.values()), 1)
        nn.init.zeros_(self.head.bias)
        with torch.no_grad():
            self.head.bias[0] = -4.6

    def forward(self, x: Tensor) -> Tensor:
        """(n, 2, h, w) prepared grey, sides multiples of 32 → (n, sum of HEADS, h/4, w/4) raw."""
        a = self.s4(self.stem(x))
        b = self.s8(a)
        c = self.s16(b)
        d = self.s32(c)
        y = self.lateral[3](d)
        for i, level in ((2, c), (1, b), (0, a)):
            y = F.interpolate(y, scale_factor=2.0, mode="nearest") + self.lateral[i](level)
            y = self.smooth[i](y)
        return self.head(self.neck(y))


class Finder(nn.Module):
    """Where writing stands on a small copy of the whole photo, how large and which way."""

    def __init__(self) -> None:
        super().__init__()
        self.body = nn.Sequential(
            conv(CHANNELS, 12, 3, 2), conv(12, 24, 3, 2), stage(24, 40, 1),
        )  # fmt: skip
        self.deep = nn.Sequential(stage(40, 64, 2), nn.Conv2d(64, 40, 1))
        self.head = nn.Sequential(conv(40, 40), nn.Conv2d(40, 4, 1))
        with torch.no_grad():
            self.head[1].bias[0] = -3.0

    def forward(self, x: Tensor) -> Tensor:
        """(n, 2, h, w) prepared grey, sides multiples of 16 → (n, 4, h/8, w/8): heat, log height/8, cos2, sin2."""
        a = self.body(x)
        return self.head(a + F.interpolate(self.deep(a), scale_factor=2.0, mode="nearest"))


class LineReader(nn.Module):
    """Reads a straightened strip of 48 pixels' height as a sequence (CTC, blank at 0)."""

    def __init__(self, out: int = len(CLASSES) + 1) -> None:
        super().__init__()
        self.body = nn.Sequential(
            conv(CHANNELS, 32, 3, 2), Block(32),
            conv(32, 64, 3, 2), Block(64), Block(64),
            nn.Sequential(nn.Conv2d(64, 112, 3, (2, 1), 1, bias=False), nn.BatchNorm2d(112), nn.ReLU()),
            Block(112), Block(112),
            nn.Sequential(nn.Conv2d(112, 176, 3, (2, 1), 1, bias=False), nn.BatchNorm2d(176), nn.ReLU()),
            Block(176), Block(176),
        )  # fmt: skip
        self.squash = nn.Conv2d(176, 192, (3, 1))
        self.along = nn.Sequential(
            nn.ReLU(), nn.Conv2d(192, 192, (1, 5), padding=(0, 2)), nn.ReLU()
        )
        self.out = nn.Conv2d(192, out, 1)

    def forward(self, x: Tensor) -> Tensor:
        """(n, 2, 48, w) prepared grey → (n, out, w/4) raw scores a step."""
        return self.out(self.along(self.squash(self.body(x))))[:, :, 0]


def prepare(grey: Tensor) -> Tensor:
    """(n, 1, h, w) grey 0..1 → (n, 2, h, w); `reader.prepare` does the same from uint8."""
    level = grey * 4 - 2
    mean = _around(level)
    spread = (_around(level * level) - mean * mean).clamp_min(0).sqrt() + CALM
    local = ((level - mean) / spread).clamp(-STRONGEST, STRONGEST)
    return torch.cat([level, local], 1)


def _around(x: Tensor) -> Tensor:
    """Mean over the square round each pixel, the edge repeated beyond the border."""
    reach = AROUND // 2
    wide = F.avg_pool2d(F.pad(x, (reach, reach, 0, 0), mode="replicate"), (1, AROUND), 1)
    return F.avg_pool2d(F.pad(wide, (0, 0, reach, reach), mode="replicate"), (AROUND, 1), 1)


def widened(state: dict[str, Tensor], net: nn.Module) -> dict[str, Tensor]:
    """Weights of a net that saw one channel, for the same net with two: the second adds nothing."""
    out = dict(state)
    for name, value in net.state_dict().items():
        old = out.get(name)
        if old is not None and old.ndim == 4 and old.shape[1] < value.shape[1]:
            out[name] = torch.cat([old, torch.zeros_like(value[:, old.shape[1] :])], 1)
    return out

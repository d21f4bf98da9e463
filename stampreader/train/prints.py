"""Traced pictures on the device: photographed, laid and cut as the networks are shown them.

`train.traced` lays files of pictures into a folder while training runs; a thread reads them. What
a phone does to a picture, and where it is looked at, is thrown afresh each time one is shown.
"""

from __future__ import annotations

import math
import queue
import threading
import time
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import torch
import torch.nn.functional as F

from stampreader.train.camera import camera, pixel_lines
from stampreader.train.dice import Shader, Thrown
from stampreader.train.draw import MOST, STRIP, STRIPS, TILE
from stampreader.train.shade import IGNORED, moved_rows, turns
from stampreader.train.traced.scene import LINES

Tensor = torch.Tensor
Array = np.ndarray

LAID = 26.0
"""Cap height the detector is shown, pixels; `BESIDE` is by how much smaller and larger."""
BESIDE = (0.55, 1.6)
LINE_CAP = 28.0
"""Cap height on a strip of the line reader, pixels."""
TONE, EDGE = 0.85, 1.45
"""A glyph is taught whose strokes stand out by so many spreads of the metal beside them, or whose
edges are so many times as sharp."""
ENOUGH = 1_500
"""Pictures there must be before their full share of them is shown: a few are learnt by heart."""


def visible(picture: Array, rows: Array, spots: Array) -> Array:
    """(G,) IGNORED for the glyphs of a picture that nobody could see, 1 for others, 0 for no row.

    Args:
        picture: (h, w) light, linear.
        rows: (G, 10) of the picture.
        spots: (G, 3, S, 2) places on strokes, on their edges, and beside them.
    """
    real = rows[:, 8] > 0
    level = max(float(np.median(picture)), 1e-4)
    grey = np.clip(picture.astype(np.float32) / level * 0.4, 0, 1.5) ** 0.6
    grey = cv2.GaussianBlur(grey, (0, 0), 0.6)
    slope = np.hypot(cv2.Sobel(grey, cv2.CV_32F, 1, 0), cv2.Sobel(grey, cv2.CV_32F, 0, 1)) / 8
    at = spots.astype(np.float32).reshape(-1, 1, 2)
    seen, steep = (
        cv2.remap(p, at, None, cv2.INTER_LINEAR).reshape(spots.shape[:-1]) for p in (grey, slope)
    )
    there = (spots[..., 0] >= 0) & (spots[..., 1] >= 0)
    there &= (spots[..., 0] < grey.shape[1] - 1) & (spots[..., 1] < grey.shape[0] - 1)
    weight = there / np.maximum(there.sum(-1, keepdims=True), 1)
    mean = (seen * weight).sum(-1)
    spread = np.sqrt((((seen - mean[..., None]) ** 2) * weight).sum(-1))
    sharp = (steep * weight).sum(-1)
    known = there.any(-1)
    tone = np.abs(mean[:, 0] - mean[:, 2]) / (spread[:, 2] + 0.012) * (known[:, 0] & known[:, 2])
    edge = sharp[:, 1] / (sharp[:, 2] + 0.004) * (known[:, 1] & known[:, 2])
    return np.where(real, np.where((tone > TONE) | (edge > EDGE), 1.0, IGNORED), 0.0)


@dataclass
class Print:
    """One picture, its rows in the order of their lines, and the lines."""

    picture: Array
    rows: Array
    line: Array
    lines: Array
    plate: Array


def read_prints(path: Path) -> list[Print]:
    """The pictures of one file, with the rows of what nobody could see marked."""
    with np.load(path) as file:
        parts = {name: file[name] for name in file.files}
    found = []
    for picture, rows, lines, spots, plate in zip(
        *(parts[k] for k in ("picture", "glyphs", "lines", "spots", "plate")), strict=True
    ):
        if not np.isfinite(picture).all():
            continue
        rows = rows.copy()
        rows[:, 8] = visible(picture, rows, spots)
        line = np.where(rows[:, 8] > 0, rows[:, 9], -1).astype(int)
        along = ((rows[:, 1:3] - lines[line.clip(0), :2]) * lines[line.clip(0), 2:4]).sum(1)
        order = np.lexsort((along, np.where(line < 0, 10**6, line)))
        found.append(Print(picture, rows[order, :9], line[order], lines, plate))
    return found


class Prints:
    """A ring of traced pictures.

    Args:
        folder: where files of them come to lie; they stay there for the other parts' trainings.
        kept: pictures held.
        size: their height and width, pixels.
        sh: shader whose chance and device are used.
    """

    def __init__(self, folder: Path, kept: int, size: tuple[int, int], sh: Shader) -> None:
        self.folder, self.kept, self.filled, self.at = folder, kept, 0, 0
        self.sh = Shader(sh.banks, size, sh.generator, sh.device)
        device = sh.device
        self.picture = torch.zeros(kept, 1, *size, dtype=torch.float16, device=device)
        self.rows = torch.zeros(kept, MOST, 9, device=device)
        self.line = torch.full((kept, MOST), -1, dtype=torch.long, device=device)
        self.lines = torch.zeros(kept, LINES, 10, device=device)
        self.plate = torch.zeros(kept, 1, size[0] // 4, size[1] // 4, device=device)
        self.ready: queue.Queue[list[Print]] = queue.Queue(16)
        self.ended = threading.Event()
        threading.Thread(target=self._load, daemon=True).start()

    def _load(self) -> None:
        known: set[Path] = set()
        while not self.ended.is_set():
            for path in sorted(set(self.folder.glob("*[0-9].npz")) - known):
                known.add(path)
                self.ready.put(read_prints(path))
            time.sleep(0.2)

    def refresh(self) -> None:
        """Take in what was read."""
        while not self.ready.empty():
            for one in self.ready.get():
                at, device = self.at, self.picture.device
                for ring, value in (
                    (self.picture, one.picture[None]), (self.rows, one.rows), (self.line, one.line),
                    (self.lines, one.lines), (self.plate, one.plate[None].astype(np.float32) / 255),
                ):  # fmt: skip
                    ring[at] = torch.from_numpy(np.ascontiguousarray(value)).to(device, ring.dtype)
                self.at = (at + 1) % self.kept
                self.filled = min(self.filled + 1, self.kept)

    def share(self, wanted: float) -> float:
        """The share of them among what is shown: less while there are few."""
        return wanted * min(1.0, self.filled / ENOUGH)

    def close(self) -> None:
        """Read no more."""
        self.ended.set()

    def _developed(self, count: int) -> tuple[Tensor, Tensor]:
        """Which pictures, and (count, 1, h, w) as a phone shows them, 0 to 1."""
        pick = torch.randint(
            self.filled, (count,), generator=self.sh.generator, device=self.picture.device
        )
        plate = F.interpolate(self.plate[pick], size=self.sh.size)
        dice = Thrown(self.sh.banks, *self.sh.throw(count))
        return pick, camera(self.picture[pick].float(), plate, dice)

    def tiles(self, count: int, size: tuple[int, int], level: float) -> tuple[Tensor, Tensor]:
        """Tiles round the text, laid level for a share `level` of them, and their rows.

        Returns:
            (count, 1, h, w) pictures 0 to 1 and (count, MOST, 9) rows.
        """
        sh = self.sh
        pick, pictures = self._developed(count)
        rows = self.rows[pick]
        real = (rows[..., 8] > 0).float()
        angle = turns(rows, sh, level)
        cap = (rows[..., 3] * real).sum(1) / real.sum(1).clamp_min(1)
        low, high = (math.log(v) for v in BESIDE)
        wanted = LAID * torch.exp(low + (high - low) * sh.rand(count))
        grow = torch.where(cap > 1, wanted / cap.clamp_min(1), torch.ones_like(cap))
        weight = real * (1 + 2 * (rows[..., 7] > 0)) + 1e-6
        aim = torch.multinomial(weight, 1, generator=sh.generator)
        middle = rows.gather(1, aim[..., None].expand(-1, -1, 9))[:, 0, 1:3]
        some = (real.sum(1) > 0)[:, None]
        half = torch.tensor([sh.size[1] - 1.0, sh.size[0] - 1.0], device=sh.device) / 2
        middle = torch.where(some, middle, half.expand(count, 2))
        corner = torch.tensor([size[1] - 1.0, size[0] - 1.0], device=sh.device)
        to = corner * (0.5 + (sh.rand(count, 2) - 0.5) * 0.5)
        c, d = torch.cos(angle), torch.sin(angle)
        turn = torch.stack([torch.stack([c, -d], -1), torch.stack([d, c], -1)], -2)
        x, y = pixel_lines(count, size, sh.device)
        away = torch.stack([x, y], -1) - to[:, None, None]
        back = (away @ turn[:, None]) / grow[:, None, None, None] + middle[:, None, None]
        at = (rows[..., 1:3] - middle[:, None]) @ turn.transpose(1, 2) * grow[:, None, None]
        at = at + to[:, None]
        out = moved_rows(rows, at, turn, grow, corner)
        return resampled(pictures, back, 1 / grow), out

    def strips(self, count: int) -> tuple[Tensor, Tensor]:
        """Tiles of STRIPS lines, each cut along its curve, as `draw.draw_lines` draws them.

        Returns:
            (count, 1, TILE, TILE) pictures 0 to 1 and (count, MOST, 9) rows.
        """
        sh = self.sh
        pick, pictures = self._developed(count)
        pick = pick.repeat_interleave(STRIPS)
        n = len(pick)
        lines = self.lines[pick]
        worth = (lines[..., 7] > 7).float() + 1e-6
        chosen = torch.multinomial(worth, 1, generator=sh.generator)
        line = lines.gather(1, chosen[..., None].expand(-1, -1, 10))[:, 0]
        origin, way, rise = line[:, :2], line[:, 2:4], line[:, 4:7]
        cap = line[:, 7].clamp_min(4)
        scale = cap / (LINE_CAP * torch.exp(sh.normal(n) * 0.12))  # picture pixels a strip pixel
        long = (line[:, 9] - line[:, 8]) / scale
        least = (TILE - 30 - long).clamp(max=0)
        left = least + (30 - least) * sh.rand(n) + 12
        squeeze = torch.exp(sh.normal(n) * 0.06)

        def across(u: Tensor) -> Tensor:
            a, b, c = (rise[:, i].view(n, *[1] * (u.ndim - 1)) for i in range(3))
            return a * u**2 + b * u + c

        x, y = pixel_lines(n, (STRIP, TILE), sh.device)
        wide = (scale * squeeze)[:, None, None]
        slope, lift = sh.normal(n, 1, 1) * 0.012, sh.normal(n, 1, 1) * 1.5
        u = (x - left[:, None, None]) * wide + line[:, 8, None, None]
        v = y - (STRIP - 1) / 2 + lift + slope * (x - TILE / 2)
        v = v * scale[:, None, None] + across(u)
        side = torch.stack([-way[:, 1], way[:, 0]], -1)
        at = (
            origin[:, None, None]
            + u[..., None] * way[:, None, None]
            + v[..., None] * side[:, None, None]
        )
        cut = resampled(pictures.repeat_interleave(STRIPS, 0), at, scale)
        rows, own = self.rows[pick], self.line[pick]
        along = ((rows[..., 1:3] - origin[:, None]) * way[:, None]).sum(-1)
        place = (along - line[:, 8, None]) / (scale * squeeze)[:, None] + left[:, None]
        mine = (own == chosen) & (rows[..., 8] > 0)
        inside = mine & (place > 4) & (place < TILE - 4)
        cut_off = mine & ~inside & (place > -9) & (place < TILE + 9)
        bad = cut_off.any(1, keepdim=True) | (line[:, 7:8] <= 7)
        real = rows[..., 8] * inside
        real = torch.where(bad, real.clamp(max=IGNORED), real)
        strip = torch.arange(n, device=sh.device) % STRIPS
        kind, zero = rows[..., 0], torch.zeros_like(place)
        flat = torch.stack([kind, place, strip[:, None] + zero, *[zero] * 5, real], -1)
        flat = flat.reshape(count, STRIPS * MOST, 9)
        first = torch.argsort((flat[..., 8] == 0).int(), dim=1, stable=True)[:, :MOST]
        return cut.reshape(count, 1, TILE, TILE), flat.gather(1, first[..., None].expand(-1, -1, 9))


def resampled(pictures: Tensor, at: Tensor, step: Tensor) -> Tensor:
    """Pictures read at places, from smaller copies where the places are far apart.

    Args:
        pictures: (n, 1, h, w).
        at: (n, H, W, 2) x and y in their pixels.
        step: (n,) pixels between neighbours.

    Returns:
        (n, 1, H, W).
    """
    out = torch.zeros(at.shape[0], 1, *at.shape[1:3], device=at.device)
    level = torch.floor(torch.log2(step.clamp(1, 7.9) * 1.1)).clamp(0, 2).long()
    for k in range(3):
        here = torch.nonzero(level == k)[:, 0]
        if not len(here):
            continue
        part = F.avg_pool2d(pictures[here], 2**k) if k else pictures[here]
        size = torch.tensor([part.shape[3], part.shape[2]], device=at.device)
        grid = ((at[here] + 0.5) / 2**k) / size * 2 - 1
        out[here] = F.grid_sample(part, grid, padding_mode="border", align_corners=False)
    return out

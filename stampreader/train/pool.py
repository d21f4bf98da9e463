"""A store of drawn stamps on the device, refilled by worker processes while training runs."""

from __future__ import annotations

import multiprocessing as mp
import os
import shutil
import time
from pathlib import Path

import numpy as np
import torch

from stampreader.train.draw import MOST, TILE, draw_lines, draw_tile, load_faces


def _work(faces_path: Path, folder: Path, part: str, size: int, seed: int, ahead: int) -> None:
    """Draw shards for ever; waits while `ahead` of them lie unread."""
    faces = load_faces(faces_path)
    draw = draw_lines if part == "line" else draw_tile
    rng = np.random.default_rng(seed)
    number = 0
    while True:
        while len(list(folder.glob("*.npz"))) > ahead:
            time.sleep(0.2)
        tiles = [draw(rng, faces) for _ in range(size)]
        name = f"{seed}-{number}"
        number += 1
        np.savez(
            folder / f"{name}.part",
            mask=np.stack([t.mask for t in tiles]),
            glyphs=np.stack([t.glyphs for t in tiles]),
            frame=np.stack([t.frame for t in tiles]),
        )
        os.replace(folder / f"{name}.part.npz", folder / f"{name}.npz")


class Pool:
    """A ring of drawn tiles.

    Args:
        faces: pickle of baked faces.
        folder: where workers lay their shards; emptied first. Prefer a memory file system.
        part: `line` for level lines, else whole tiles.
        kept: tiles held on the device.
        workers: drawing processes; 0 draws in this process, once.
        seed: of the drawings.
        device: where the tiles are held.
    """

    def __init__(
        self,
        faces: Path,
        folder: Path,
        part: str,
        kept: int,
        workers: int,
        seed: int,
        device: torch.device,
    ) -> None:
        shm = Path("/dev/shm")
        self.folder = shm / f"stamps-{os.getpid()}" if shm.is_dir() and workers else folder
        shutil.rmtree(self.folder, ignore_errors=True)
        self.folder.mkdir(parents=True)
        self.kept, self.filled, self.at, self.device = kept, 0, 0, device
        self.mask = torch.zeros(kept, TILE, TILE, dtype=torch.uint8, device=device)
        self.glyphs = torch.zeros(kept, MOST, 9, device=device)
        self.frame = torch.zeros(kept, 12, device=device)
        self.looked = 0.0
        self.workers: list[mp.process.BaseProcess] = []
        shard = min(400, kept)
        if not workers:
            drawn, rng = load_faces(faces), np.random.default_rng(seed)
            draw = draw_lines if part == "line" else draw_tile
            tiles = [draw(rng, drawn) for _ in range(shard)]
            self._take(
                np.stack([t.mask for t in tiles]),
                np.stack([t.glyphs for t in tiles]),
                np.stack([t.frame for t in tiles]),
            )
            return
        context = mp.get_context("spawn")
        for i in range(workers):
            args = (faces, self.folder, part, shard, seed * 131 + i, 3 * workers)
            self.workers.append(context.Process(target=_work, args=args, daemon=True))
            self.workers[-1].start()
        while self.filled < min(kept, shard * max(workers, 4)):
            time.sleep(0.3)
            self.refresh(now=True)

    def _take(self, mask: np.ndarray, glyphs: np.ndarray, frame: np.ndarray) -> None:
        count = min(len(mask), self.kept)
        slots = (torch.arange(count) + self.at) % self.kept
        self.mask[slots] = torch.from_numpy(mask[:count]).to(self.device)
        self.glyphs[slots] = torch.from_numpy(glyphs[:count]).to(self.device)
        self.frame[slots] = torch.from_numpy(frame[:count]).to(self.device)
        self.at = (self.at + count) % self.kept
        self.filled = min(self.filled + count, self.kept)

    def refresh(self, *, now: bool = False) -> None:
        """Take in one finished shard, if there is one; looks at most twice a second."""
        if not self.workers or (time.monotonic() - self.looked < 0.5 and not now):
            return
        self.looked = time.monotonic()
        for path in sorted(self.folder.glob("*[0-9].npz"))[: 8 if now else 1]:
            with np.load(path) as shard:
                self._take(shard["mask"], shard["glyphs"], shard["frame"])
            path.unlink()

    def batch(
        self, count: int, generator: torch.Generator
    ) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor]:
        """masks (count, 1, T, T) 0..1, glyphs (count, MOST, 9), frames (count, 12)."""
        pick = torch.randint(self.filled, (count,), generator=generator, device=self.device)
        return self.mask[pick].float()[:, None] / 255, self.glyphs[pick], self.frame[pick]

    def close(self) -> None:
        """End the workers and remove their folder."""
        for worker in self.workers:
            worker.terminate()
        shutil.rmtree(self.folder, ignore_errors=True)

"""A store of drawn stamps on the device, refilled by worker processes while training runs."""

from __future__ import annotations

import multiprocessing as mp
import os
import queue
import shutil
import threading
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
        self.ready: queue.Queue[tuple[torch.Tensor, ...]] = queue.Queue(2)
        self.ended = threading.Event()
        self.workers: list[mp.process.BaseProcess] = []
        shard = min(400, kept)
        if not workers:
            drawn, rng = load_faces(faces), np.random.default_rng(seed)
            draw = draw_lines if part == "line" else draw_tile
            tiles = [draw(rng, drawn) for _ in range(shard)]
            parts = ("mask", "glyphs", "frame")
            self._take(*(torch.from_numpy(np.stack([getattr(t, p) for t in tiles])) for p in parts))
            return
        context = mp.get_context("spawn")
        for i in range(workers):
            args = (faces, self.folder, part, shard, seed * 131 + i, 3 * workers)
            self.workers.append(context.Process(target=_work, args=args, daemon=True))
            self.workers[-1].start()
        threading.Thread(target=self._load, daemon=True).start()
        self.enough = min(kept, 4 * shard)

    def wait(self) -> None:
        """Until enough tiles are there to begin with."""
        while self.workers and self.filled < self.enough:
            self._take(*self.ready.get())

    def _load(self) -> None:
        """Read finished shards ahead, in a thread of its own."""
        pin = self.device.type == "cuda"
        while not self.ended.is_set():
            for path in sorted(self.folder.glob("*[0-9].npz"))[:1]:
                with np.load(path) as shard:
                    parts = [torch.from_numpy(shard[k]) for k in ("mask", "glyphs", "frame")]
                path.unlink(missing_ok=True)  # `close` may have been before
                self.ready.put(tuple(p.pin_memory() if pin else p for p in parts))
            time.sleep(0.05)

    def _take(self, mask: torch.Tensor, glyphs: torch.Tensor, frame: torch.Tensor) -> None:
        count = min(len(mask), self.kept)
        slots = (torch.arange(count, device=self.device) + self.at) % self.kept
        self.mask[slots] = mask[:count].to(self.device, non_blocking=True)
        self.glyphs[slots] = glyphs[:count].to(self.device, non_blocking=True)
        self.frame[slots] = frame[:count].to(self.device, non_blocking=True)
        self.at = (self.at + count) % self.kept
        self.filled = min(self.filled + count, self.kept)

    def refresh(self) -> None:
        """Take in one finished shard, if there is one."""
        if not self.ready.empty():
            self._take(*self.ready.get())

    def batch(
        self, count: int, generator: torch.Generator
    ) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor]:
        """masks (count, 1, T, T) 0..1, glyphs (count, MOST, 9), frames (count, 12)."""
        pick = torch.randint(self.filled, (count,), generator=generator, device=self.device)
        return self.mask[pick].float()[:, None] / 255, self.glyphs[pick], self.frame[pick]

    def close(self) -> None:
        """End the workers and remove their folder."""
        self.ended.set()
        for worker in self.workers:
            worker.terminate()
        shutil.rmtree(self.folder, ignore_errors=True)

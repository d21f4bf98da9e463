"""The works that make a set of photos: plan, build in several processes, trace in one, develop.

Pictures that are already there are kept, so a run that was stopped goes on where it was.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import pickle
import sys
import tempfile
import time
from collections import deque
from concurrent.futures import Future, ProcessPoolExecutor
from pathlib import Path

import cv2
import numpy as np

from . import KINDS
from .phone import defects, develop, encode, invent_look, shaken
from .shot import Scene, build_scene, invent_shot, rng_of
from .truth import photo_truth

ATTEMPTS = 3
SHOTS_A_STACK = (5, 6, 7, 8)
SAMPLES = {"test": 64, "tuning": 48, "calibration": 40, "stack": 64, "delivery": 40}


def size_limit(kind: str, pixels: int) -> int:
    """Bytes a JPEG may take."""
    if kind == "stack":
        return 80_000
    if kind != "test":
        return 330_000 if kind in ("calibration", "delivery") else 400_000
    return 400_000 if pixels < 9_000_000 else 1_600_000


def prepare(
    kind: str, seed: int, index: int, attempt: int, pixels: tuple[int, int] | None, folder: str
) -> str:
    """Build one scene in a worker and leave it in a file for the tracer."""
    cv2.setNumThreads(1)
    shot = invent_shot(kind, seed, index, attempt, pixels)
    shots = SHOTS_A_STACK[index % len(SHOTS_A_STACK)] if kind == "stack" else 1
    scene = build_scene(shot, shots)
    path = Path(folder) / f"{shot.name}-{attempt}.scene"
    with path.open("wb") as file:
        pickle.dump(scene, file, protocol=pickle.HIGHEST_PROTOCOL)
    return str(path)


def finish(folder: str, scene_file: str, traced_file: str) -> str:
    """Develop traced pictures in a worker and write JPEG and truth; returns a line to log."""
    cv2.setNumThreads(1)
    with open(scene_file, "rb") as file:
        scene: Scene = pickle.load(file)
    traced = np.load(traced_file)
    out, shot = Path(folder), scene.shot
    rng = rng_of(shot.kind, shot.seed[0], shot.index, shot.seed[1] * 10 + 2)
    truths, boxes = [], []
    look = invent_look(rng, shot.spoilt, shot.kind)
    for which, picture in enumerate(traced):
        seen = look if shot.kind != "stack" else shaken(look, rng)
        upright = develop(picture.astype(np.float32), seen, rng, metered(scene, which))
        limit = size_limit(shot.kind, upright.shape[0] * upright.shape[1])
        data, quality = encode(upright, shot.exif, look.quality, limit)
        name = f"{shot.name}.jpg" if len(traced) == 1 else f"{shot.name}-{which + 1}.jpg"
        (out / name).write_bytes(data)
        grey = cv2.cvtColor(upright, cv2.COLOR_RGB2GRAY).astype(np.float32)
        truth, box = photo_truth(scene, which, grey, name, quality)
        truths.append(truth)
        boxes.append(box)
    part = out / ".parts" / f"{shot.name}.json"
    beside = part.with_suffix(".new")
    beside.write_text(json.dumps({"truths": truths, "boxes": boxes}))
    beside.replace(part)
    return f"{shot.name} {truths[0]['difficulty']} {truths[0]['method']}"


def metered(scene: Scene, which: int) -> tuple[slice, slice] | None:
    """Where the exposure is taken: a person who photographs a stack taps on the spine."""
    if scene.shot.kind != "stack":
        return None
    at = scene.cameras[which].project(scene.panels[0])
    (left, top), (right, bottom) = np.maximum(at.min(0), 0).astype(int), at.max(0).astype(int) + 1
    return slice(int(top), int(bottom)), slice(int(left), int(right))


def todo(out: Path, kind: str, first: int, count: int) -> list[int]:
    """Indexes whose pictures are not finished yet."""
    done = {p.stem for p in (out / ".parts").glob("*.json")}
    return [i for i in range(first, first + count) if f"{kind}-{i:04d}" not in done]


def gather(out: Path, kind: str) -> int:
    """Write truth.json (and glyphs.json, but for the test set) from the finished parts."""
    truths, boxes = [], []
    for part in sorted((out / ".parts").glob(f"{kind}-*.json")):
        record = json.loads(part.read_text())
        if kind == "stack":
            truths.append(stack_truth(part.stem, record["truths"]))
        else:
            truths += record["truths"]
        boxes += record["boxes"]
    (out / "truth.json").write_text(json.dumps(truths, indent=1) + "\n")
    if kind != "test":
        (out / "glyphs.json").write_text(json.dumps(boxes) + "\n")
    return len(truths)


def stack_truth(name: str, truths: list[dict]) -> dict:
    """One record for a stack: its shots, and the truth they share."""
    shared = {k: v for k, v in truths[0].items() if k not in ("photo", "difficulty")}
    shots = [
        {
            "photo": t["photo"],
            "difficulty": t["difficulty"],
            "measured": t["connectors"][0]["measured"],
        }
        for t in truths
    ]
    degree = truths[0]["connectors"][0]["worn_degree"]
    return {"stack": name, "shots": shots, **shared, "worn_degree": degree}


class Works:
    """The line from plans to pictures: build, trace, develop."""

    def __init__(self, args: argparse.Namespace, scratch: str) -> None:
        from .tracer import Tracer

        self.args, self.scratch = args, scratch
        context = multiprocessing.get_context("spawn")
        self.pool = ProcessPoolExecutor(args.workers, mp_context=context)
        self.tracer = Tracer(args.variant)
        self.developing: deque[Future] = deque()
        self.failed: list[str] = []
        self.done = 0

    def run(self, indexes: list[int]) -> None:
        """Make all pictures; one that fails is logged and the run goes on."""
        waiting = deque((i, 0) for i in indexes)
        building: deque[tuple[int, int, Future]] = deque()
        while waiting or building:
            while waiting and len(building) < 2 * self.args.workers:
                index, attempt = waiting.popleft()
                building.append((index, attempt, self._build(index, attempt)))
            index, attempt, future = building.popleft()
            if not self._trace(index, attempt, future) and attempt + 1 < ATTEMPTS:
                waiting.appendleft((index, attempt + 1))
            self._collect(2 * self.args.workers)
        self._collect(0)
        self.pool.shutdown()

    def _build(self, index: int, attempt: int) -> Future:
        a = self.args
        return self.pool.submit(prepare, a.kind, a.seed, index, attempt, a.size, self.scratch)

    def _trace(self, index: int, attempt: int, future: Future) -> bool:
        try:
            path = future.result()
            with open(path, "rb") as file:
                scene = pickle.load(file)
            traced = self.tracer.trace(scene, self.args.spp, index * 7 + attempt)
            fault = next((d for d in map(defects, traced) if d), "")
        except Exception as error:
            fault, path = f"{type(error).__name__}: {error}", ""
        if fault:
            self._say(f"{self.args.kind}-{index:04d} attempt {attempt + 1}: {fault}")
            self.failed += [f"{index}"] if attempt + 1 == ATTEMPTS else []
            return False
        traced_file = path + ".npy"
        np.save(traced_file, np.stack(traced).astype(np.float16).clip(-6e4, 6e4))
        out = str(self.args.out)
        self.developing.append(self.pool.submit(finish, out, path, traced_file))
        self.developing[-1].scene_file = path  # type: ignore[attr-defined]
        return True

    def _collect(self, most: int) -> None:
        while len(self.developing) > most:
            future = self.developing.popleft()
            try:
                line = future.result()
                self.done += 1
                if self.done % 20 == 0 or self.args.verbose:
                    self._say(f"{self.done} {line} {time.monotonic() - self.args.began:.0f} s")
            except Exception as error:
                self._say(f"developing failed: {type(error).__name__}: {error}")
                self.failed.append(future.scene_file)  # type: ignore[attr-defined]
            for suffix in ("", ".npy"):
                Path(future.scene_file + suffix).unlink(missing_ok=True)  # type: ignore[attr-defined]

    @staticmethod
    def _say(line: str) -> None:
        print(line, file=sys.stderr, flush=True)


def parse(argv: list[str] | None) -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(prog="stampreader.train.photos", description=__doc__)
    parser.add_argument("--kind", choices=KINDS, required=True)
    parser.add_argument("--count", type=int, default=10)
    parser.add_argument("--first", type=int, default=0, help="index of the first picture")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--variant", default="cuda_ad_rgb")
    parser.add_argument("--size", help="WxH of every picture, else drawn at random")
    parser.add_argument("--spp", type=int, default=0, help="samples a pixel, else by kind")
    parser.add_argument("--workers", type=int, default=8)
    parser.add_argument("--verbose", action="store_true")
    args = parser.parse_args(argv)
    args.spp = args.spp or SAMPLES[args.kind]
    args.size = tuple(int(v) for v in args.size.split("x")) if args.size else None
    args.began = time.monotonic()
    return args


def main(argv: list[str] | None = None) -> int:
    """Make or complete a set of photos."""
    args = parse(argv)
    (args.out / ".parts").mkdir(parents=True, exist_ok=True)
    indexes = todo(args.out, args.kind, args.first, args.count)
    failed: list[str] = []
    if indexes:
        shm = Path("/dev/shm")
        with tempfile.TemporaryDirectory(dir=shm if shm.is_dir() else None) as scratch:
            works = Works(args, scratch)
            works.run(indexes)
            failed = works.failed
    total = gather(args.out, args.kind)
    spent = time.monotonic() - args.began
    print(f"{len(indexes) - len(failed)} made, {len(failed)} failed, {total} in all, {spent:.1f} s")
    return 1 if failed else 0

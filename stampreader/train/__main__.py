"""Train the readers from nothing, or go on from a checkpoint.

    python -m stampreader.train --faces faces.pkl --out DIR --part detector --minutes 20

`torchrun --nproc-per-node N -m stampreader.train …` shares the work between N devices.
`--stop-after` ends a run early and leaves `DIR/detector.pt`; the same command goes on from there,
the learning rate following the minutes trained so far. `--toy` runs each step once at small size.
Data: `draw` makes stamps in worker processes, `shade` photographs them afresh at every step.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import time
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import torch

from stampreader.train import banks, losses, surroundings
from stampreader.train.album import Album, exposed, nudged, quartered
from stampreader.train.dice import Shader
from stampreader.train.draw import MOST, STRIP, TILE
from stampreader.train.model import Detector, Finder, LineReader, prepare, widened
from stampreader.train.pool import Pool
from stampreader.train.prints import Prints
from stampreader.train.shade import move, shade, shade_and_mark
from stampreader.train.traced.scene import HIGH, WIDE

Tensor = torch.Tensor


@dataclass(frozen=True)
class Config:
    """All knobs of a run."""

    part: str = "detector"  # detector | finder | line
    batch: int = 96  # tiles a step
    rate: float = 2.0e-3  # highest learning rate (AdamW)
    decay: float = 0.02  # weight decay
    warm: float = 0.02  # share of the time the rate rises
    minutes: float = 20.0  # length of the whole schedule
    kept: int = 40_000  # drawn tiles held on the device
    lights: int = 3_000  # environments
    uses: int = 4  # steps a shaded picture serves on average, each time moved and exposed otherwise
    album: int = 24_000  # shaded pictures held on the device
    printed: float = 0.5  # share of traced pictures among what is shown, where there are any
    prints: int = 12_000  # of them held on the device
    level: float = 0.85  # share of tiles with level text, either way up, as the finder lays them
    compiled: bool = False  # the shader made into one program first: pays on a GPU
    average: float = 0.9995  # of the weights that are exported
    clip: float = 5.0  # largest gradient norm
    seed: int = 7


def toy(config: Config) -> Config:
    """The same run at a size for the tests."""
    return replace(config, batch=4, kept=16, lights=16, album=12, prints=8, minutes=2.0)


def rate_at(config: Config, progress: float) -> float:
    """Rise, then half a cosine down to a hundredth; `progress` 0 to 1."""
    if progress < config.warm:
        return config.rate * max(progress, 1e-4) / config.warm
    p = min((progress - config.warm) / (1 - config.warm), 1.0)
    return config.rate * (0.01 + 0.99 * 0.5 * (1 + math.cos(math.pi * p)))


SIZES = {"detector": (192, TILE), "finder": (TILE, TILE), "line": (TILE, TILE)}
"""Height and width of the shaded tiles of each part, pixels."""
FIRST = 2_000
"""Tiles shaded before the first step."""
NETS = {"detector": Detector, "finder": Finder, "line": LineReader}


@dataclass
class State:
    """What a checkpoint keeps."""

    net: torch.nn.Module
    shown: torch.nn.Module  # averaged weights
    adam: torch.optim.Optimizer
    step: int = 0
    seconds: float = 0.0

    def save(self, path: Path, config: Config) -> None:
        """Write a checkpoint so that a kill leaves the old one or the new one."""
        raw = {
            "net": self.net.state_dict(), "shown": self.shown.state_dict(),
            "step": self.step, "seconds": self.seconds, "config": asdict(config),
        }  # fmt: skip
        torch.save(raw, path.with_suffix(".tmp"))
        os.replace(path.with_suffix(".tmp"), path)

    def load(self, path: Path, device: torch.device) -> None:
        """Go on from a checkpoint; the optimiser's memory is rebuilt in the first steps."""
        raw = torch.load(path, map_location=device, weights_only=True)
        self.net.load_state_dict(widened(raw["net"], self.net))
        self.shown.load_state_dict(widened(raw["shown"], self.shown))
        self.step, self.seconds = raw["step"], raw["seconds"]


def average(shown: torch.nn.Module, net: torch.nn.Module, keep: float) -> None:
    """Move the averaged weights a little towards the trained ones."""
    pairs = list(zip(shown.state_dict().values(), net.state_dict().values(), strict=True))
    with torch.no_grad():
        moved = [(a, b) for a, b in pairs if a.dtype.is_floating_point]
        torch._foreach_lerp_([a for a, _ in moved], [b for _, b in moved], 1 - keep)
        for a, b in pairs:
            if not a.dtype.is_floating_point:
                a.copy_(b)


def photograph(config: Config, batch: tuple[Tensor, ...], sh: Shader) -> tuple[Tensor, Tensor]:
    """Freshly shaded tiles and their glyph rows; a tile that came out unsound loses its labels."""
    masks, glyphs, frames = batch
    with torch.no_grad():
        if config.part == "line":
            frames = torch.cat([frames, torch.ones_like(frames[:, :1])], 1)
            pictures, seen = shade_and_mark(masks, on_strips(glyphs), frames, sh, STRIP)
            glyphs = torch.cat([glyphs[..., :8], seen[..., 8:]], -1)
        else:
            level = 0.0 if config.part == "finder" else config.level
            masks, glyphs, frames = move(masks, glyphs, frames, sh, level)
            pictures, glyphs = shade_and_mark(masks, glyphs, frames, sh)
        sound = torch.isfinite(pictures).flatten(1).all(1)
        pictures = torch.nan_to_num(pictures)
        glyphs = torch.cat([glyphs[..., :8], glyphs[..., 8:] * sound[:, None, None]], -1)
    return pictures, glyphs


def of_prints(config: Config, prints: Prints) -> tuple[Tensor, Tensor]:
    """The same of traced pictures, as each part is shown them."""
    with torch.no_grad():
        if config.part == "line":
            return prints.strips(config.batch)
        level = 0.0 if config.part == "finder" else config.level
        return prints.tiles(config.batch, SIZES[config.part], level)


def on_strips(glyphs: Tensor) -> Tensor:
    """Rows of a line tile with their place and size on the tile, for judging what can be seen."""
    x, strip, real = glyphs[..., 1], glyphs[..., 2], glyphs[..., 8]
    one = torch.ones_like(x)
    middle = (strip + 0.5) * STRIP
    rows = [glyphs[..., 0], x, middle, 28 * one, 20 * one, one, 0 * one, glyphs[..., 7], real]
    return torch.stack(rows, -1)


def again(config: Config, seen: tuple[Tensor, Tensor], sh: Shader) -> tuple[Tensor, Tensor]:
    """Pictures as kept, otherwise exposed; a tile is turned and moved too, lines stay level."""
    pictures, glyphs = seen
    with torch.no_grad():
        if config.part != "line":
            level = config.part == "detector" and float(torch.rand(1)) < config.level
            turns = 2 * int(torch.randint(0, 2, (1,))) if level else int(torch.randint(0, 4, (1,)))
            pictures, glyphs = nudged(*quartered(pictures, glyphs, turns), sh)
        return exposed(pictures, sh), glyphs


@torch.no_grad()
def warm_up(config: Config, sh: Shader) -> None:
    """Have the shader compiled while the workers draw the first tiles; plain if it cannot be."""
    if not sh.compiled:
        return
    blank = torch.zeros(config.batch, 1, *sh.size, device=sh.device)
    frames = torch.eye(3, device=sh.device).reshape(1, 9).repeat(config.batch, 1)
    rest = torch.tensor([[0.0, 40.0, 28.0, 1.0]], device=sh.device).repeat(config.batch, 1)
    try:
        shade(blank, torch.cat([frames, rest], 1), sh, STRIP if config.part == "line" else 0)
    except Exception as error:  # any failure of a compiler leaves the plain shader
        print(f"the shader stays uncompiled: {error}".splitlines()[0], flush=True)
        sh.compiled = False


def loss_of(
    config: Config, net: torch.nn.Module, pictures: Tensor, glyphs: Tensor, sh: Shader
) -> dict[str, Tensor]:
    """One step's losses."""
    half = sh.device.type == "cuda"
    with torch.autocast(sh.device.type, dtype=torch.bfloat16, enabled=half):
        if config.part == "detector":
            return losses.detector(net(prepare(pictures)), glyphs)
        if config.part == "finder":
            small, factor = losses.shrink(pictures)
            small, glyphs = losses.with_bare(small, glyphs, sh)
            return losses.finder(net(prepare(small)), glyphs, factor)
        strips, targets = losses.strips(pictures, glyphs, sh)
        return losses.line(net(prepare(strips)), targets)


def _rank() -> tuple[int, int]:
    """This process's number and how many there are (`torchrun` sets both)."""
    return int(os.environ.get("RANK", "0")), int(os.environ.get("WORLD_SIZE", "1"))


def share(net: torch.nn.Module, seconds: float, world: int) -> float:
    """Average the gradients over the processes; returns the first one's seconds."""
    if world == 1:
        return seconds
    grads = [p.grad for p in net.parameters() if p.grad is not None]
    clock = torch.tensor([seconds if _rank()[0] == 0 else 0.0], device=grads[0].device)
    flat = torch.cat([g.reshape(-1) for g in grads] + [clock * world])
    torch.distributed.all_reduce(flat)
    flat /= world
    parts = torch.split(flat[:-1], [g.numel() for g in grads])
    torch._foreach_copy_(grads, [p.view_as(g) for p, g in zip(parts, grads, strict=True)])
    return float(flat[-1])


def of_first(value: float, device: torch.device, world: int) -> float:
    """The first process's value, in every process: what ends a run must be one and the same."""
    if world == 1:
        return value
    told = torch.tensor([value], device=device)
    torch.distributed.broadcast(told, 0)
    return float(told)


def run(
    config: Config,
    faces: Path,
    out: Path,
    stop_after: float,
    workers: int,
    steps: int,
    probes: Path | None = None,
    traced: Path | None = None,
) -> dict[str, float]:
    """Train until the schedule, the time of this call or the number of steps is used up."""
    rank, world = _rank()
    device = torch.device(f"cuda:{rank}" if torch.cuda.is_available() else "cpu")
    if device.type == "cuda":
        torch.cuda.set_device(device)
    else:
        torch.set_num_threads(1)  # with two, oneDNN's 1×1 backward pass has hung waiting for one
    if world > 1:
        torch.distributed.init_process_group("nccl" if device.type == "cuda" else "gloo")
    torch.backends.cudnn.benchmark = True
    torch.backends.cuda.matmul.allow_tf32 = True
    torch.manual_seed(config.seed)
    out.mkdir(parents=True, exist_ok=True)
    began = time.monotonic()
    path = out / f"{config.part}.pt"
    net = NETS[config.part]().to(device, memory_format=torch.channels_last)
    shown = NETS[config.part]().to(device, memory_format=torch.channels_last)
    shown.load_state_dict(net.state_dict())
    groups = [
        {"params": [p for p in net.parameters() if p.ndim > 1], "weight_decay": config.decay},
        {"params": [p for p in net.parameters() if p.ndim <= 1], "weight_decay": 0.0},
    ]
    state = State(
        net, shown, torch.optim.AdamW(groups, lr=config.rate, betas=(0.9, 0.98), fused=True)
    )
    if path.exists():
        state.load(path, device)
    seed = config.seed + 1000 * state.step + 17 * rank
    if device.type == "cuda" and not workers:
        raise SystemExit("a run on a GPU needs drawing workers: give --workers")
    pool = Pool(faces, out / "shards", config.part, config.kept, workers, seed, device)
    real = surroundings.load(probes) if probes else []
    made = banks.build(seed, config.lights, real)
    lit = {k: torch.from_numpy(v).to(device) for k, v in made.items()}
    sh = Shader(
        lit, SIZES[config.part], torch.Generator(device).manual_seed(seed), device, config.compiled
    )
    warm_up(config, sh)
    sums: dict[str, float] = {}
    counted, skipped, first = 0, 0, state.seconds
    mark = time.monotonic()
    pool.wait()
    album = Album(config.album, SIZES[config.part], MOST, device)
    for _ in range(min(FIRST, config.album) // config.batch):
        album.put(*photograph(config, pool.batch(config.batch, sh.generator), sh))
    now, ready = state.seconds, of_first(mark - began, device, world)
    prints = Prints(traced, config.prints, (HIGH, WIDE), sh) if traced else None
    log = (out / f"{config.part}.log").open("a")
    print(f"{config.part}: start at step {state.step}, ready after {ready:.0f} s", flush=True)
    while steps > 0:
        state.seconds = now
        progress = state.seconds / (60 * config.minutes)
        if progress >= 1 or now - first + ready > stop_after:
            break
        rate = rate_at(config, progress) * min(1.0, (counted + 1) / 150)
        for group in state.adam.param_groups:
            group["lr"] = rate
        pool.refresh()
        if counted % config.uses == 0:
            if prints:
                prints.refresh()
            if prints and float(torch.rand(1)) < prints.share(config.printed):
                album.put(*of_prints(config, prints))
            else:
                album.put(*photograph(config, pool.batch(config.batch, sh.generator), sh))
        seen = again(config, album.batch(config.batch, sh), sh)
        parts = loss_of(config, net, *seen, sh)
        total = sum(parts.values())
        state.adam.zero_grad(set_to_none=True)
        total.backward()
        now = share(net, first + time.monotonic() - mark, world)
        norm = torch.nn.utils.clip_grad_norm_(net.parameters(), config.clip)
        if torch.isfinite(norm):
            state.adam.step()
            keep = min(config.average, (1 + state.step) / (10 + state.step))
            average(shown, net, keep)
        else:
            skipped += 1
        state.step += 1
        steps -= 1
        counted += 1
        if rank == 0 and (state.step % 200 == 0 or steps == 0):
            for name, value in parts.items():
                sums[name] = float(value.detach())
            line = {"step": state.step, "s": round(state.seconds), "rate": round(rate, 6),
                    "tiles_s": round(world * counted * config.batch / (time.monotonic() - mark)),
                    "skipped": skipped, "pool": pool.filled,
                    "prints": prints.filled if prints else 0, **{k: round(v, 4) for k, v in sums.items()}}  # fmt: skip
            print(json.dumps(line), flush=True)
            log.write(json.dumps(line) + "\n")
            log.flush()
        if rank == 0 and state.step % 1500 == 0:
            state.save(path, config)
    pool.close()
    if prints:
        prints.close()
    if rank == 0:
        state.save(path, config)
    if world > 1:
        torch.distributed.destroy_process_group()
    return sums


def main() -> None:
    """Train one part."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument(
        "--faces", type=Path, required=True, help="baked by stampreader.train.faces"
    )
    parser.add_argument("--surroundings", type=Path, help="baked by stampreader.train.surroundings")
    parser.add_argument("--out", type=Path, required=True, help="folder of checkpoints and logs")
    parser.add_argument("--part", choices=sorted(NETS), default="detector")
    parser.add_argument("--minutes", type=float, default=Config.minutes, help="whole schedule")
    parser.add_argument("--stop-after", type=float, default=1e9, help="seconds of this call")
    parser.add_argument("--workers", type=int, default=max((os.cpu_count() or 2) - 2, 1))
    parser.add_argument("--batch", type=int, default=Config.batch)
    parser.add_argument("--rate", type=float, default=Config.rate)
    parser.add_argument("--seed", type=int, default=Config.seed)
    parser.add_argument("--compiled", action="store_true", help="compile the shader first (GPU)")
    parser.add_argument("--level", type=float, default=Config.level, help="share of level tiles")
    parser.add_argument("--prints", type=Path, help="folder stampreader.train.traced fills")
    parser.add_argument("--printed", type=float, default=Config.printed, help="share of them")
    parser.add_argument("--toy", action="store_true", help="three tiny steps, for the tests")
    args = parser.parse_args()
    config = Config(
        part=args.part, minutes=args.minutes, batch=args.batch, rate=args.rate, seed=args.seed,
        level=args.level, compiled=args.compiled, printed=args.printed if args.prints else 0.0,
    )  # fmt: skip
    steps = 10**9
    if args.toy:
        config, steps = toy(config), 3
    run(
        config, args.faces, args.out, args.stop_after, args.workers, steps, args.surroundings,
        args.prints)  # fmt: skip


if __name__ == "__main__":
    main()

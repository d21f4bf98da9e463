"""Make scenes and have them traced while a training runs.

    python -m stampreader.train.traced --faces faces.pkl.xz --surroundings surroundings.npz \
        --pictures DIR --tracer PYTHON_WITH_BPY --device CUDA --processes 6 --workers 4 --count 3000
    python -m stampreader.train --prints DIR …
"""

from __future__ import annotations

import argparse
import multiprocessing as mp
import subprocess
import tempfile
from pathlib import Path

from stampreader.train.traced.scene import HIGH, VIEWS, WIDE
from stampreader.train.traced.supply import supply


def main() -> None:
    """Trace pictures into a folder until there are enough."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--faces", type=Path, required=True)
    parser.add_argument("--surroundings", type=Path)
    parser.add_argument("--pictures", type=Path, required=True, help="folder they come to lie in")
    parser.add_argument("--tracer", required=True, help="a Python that has bpy")
    parser.add_argument("--device", default="CPU", choices=["CPU", "CUDA", "OPTIX"])
    parser.add_argument("--samples", type=int, default=48, help="light paths a pixel")
    parser.add_argument("--processes", type=int, default=1, help="tracers side by side")
    parser.add_argument("--workers", type=int, default=1, help="processes that make scenes")
    parser.add_argument("--count", type=int, default=100, help=f"scenes of {VIEWS} pictures")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    args.pictures.mkdir(parents=True, exist_ok=True)
    shm = Path("/dev/shm")
    scenes = Path(tempfile.mkdtemp(prefix="scenes-", dir=shm if shm.is_dir() else None))
    context = mp.get_context("spawn")
    makers = []
    for i in range(args.workers):
        numbers = list(range(i, args.count, args.workers))
        given = (args.faces, args.surroundings, scenes, numbers, args.seed)
        makers.append(context.Process(target=supply, args=given, daemon=True))
        makers[-1].start()
    script = Path(__file__).with_name("blender.py")
    command = [args.tracer, str(script), str(scenes), str(args.pictures), "--device", args.device,
               "--samples", str(args.samples), "--size", str(WIDE), str(HIGH)]  # fmt: skip
    tracers = [subprocess.Popen(command, stdout=subprocess.DEVNULL) for _ in range(args.processes)]
    for maker in makers:
        maker.join()
    failed = sum(maker.exitcode != 0 for maker in makers)
    (scenes / "end").touch()
    failed += sum(tracer.wait() != 0 for tracer in tracers)
    if failed:
        raise SystemExit(f"{failed} of {len(tracers) + len(makers)} processes ended with an error")


if __name__ == "__main__":
    main()

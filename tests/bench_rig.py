"""How long a plan of 20 points takes with every mishap; run it: python tests/bench_rig.py.

Prints the work beyond start-up inside one process, and whole runs of the command beside one that
only starts, as time on the clock and as time of the processor (which another program that runs at
the same time does not lengthen). The goal is 150 ms of work beyond start-up.
"""

from __future__ import annotations

import contextlib
import io
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROUNDS = 15


def twenty_points() -> str:
    """A 5:1 over an edge on a three-leg anchor, a belay on two legs, a guy line beside: 20 points."""
    held = "held_by = [{ figures = '27/8/7' }, { name = 'pulley', strength = '36 kN' }]"
    lines = ["title = 'Twenty points'", "way = 'holding'"]

    def point(name: str, *keys: str) -> None:
        lines.extend([f"[point.{name}]", *keys, held])

    point("load", "kind = 'load'", "force = '2 kN'", "at = [0, -6]")
    point("edge", "kind = 'edge'", "at = [0, 0]", "efficiency = 0.8")
    point("master", "at = [9, 0]", "meet = 'plate'")
    for n, y in enumerate((1.5, 0.0, -1.2)):
        point(f"bolt{n}", "kind = 'anchor'", f"at = [11, {y}]")
    for name in ("fixed1", "fixed2"):
        point(name, "on = 'master'", "efficiency = 0.85")
    point("grab", "place = { between = ['edge', 'master'], share = 0.3 }")
    for name in ("moving1", "moving2"):
        point(name, "on = 'grab'", "efficiency = 0.85")
    point("hand", "kind = 'hand'", "at = [8, 0]")
    point("belay", "at = [0, 4]", "meet = 'ring'")
    for name, x in (("tree1", -2), ("tree2", 2)):
        point(name, "kind = 'anchor'", f"at = [{x}, 6]")
    point("second", "kind = 'load'", "force = '1 kN'", "at = [0, 2]")
    point("post", "kind = 'anchor'", "at = [20, 3]")
    point("stake", "kind = 'anchor'", "at = [23, 0]")
    point("top", "kind = 'load'", "force = '0.1 kN'", "at = [20, -2]")
    point("foot", "kind = 'anchor'", "at = [17, 0]")
    lines += [
        "[anchor.main]", "joins = 'master'", "legs = ['bolt0', 'bolt1', 'bolt2']",
        "[anchor.trees]", "joins = 'belay'", "legs = ['tree1', 'tree2']",
        "[rope.haul]",
        "path = ['load', 'edge', { grab = 'grab' }, 'fixed1', 'moving1', 'fixed2', 'moving2', 'hand']",
        "[rope.belay]", "path = ['belay', 'second']",
        "[rope.hang]", "path = ['post', 'top']",
        "[rope.guy]", "path = ['stake', 'foot']", "tension = '0.5 kN'",
    ]  # fmt: skip
    return "\n".join(lines)


def inside(path: Path) -> list[tuple[float, float]]:
    """Reading, solving, every mishap and printing, once everything is loaded: clock, processor."""
    from stampreader.cli.rigging import Wish, ask
    from stampreader.cli.show_rig import show_rig

    times = []
    for _ in range(ROUNDS):
        start, spent = time.perf_counter(), time.process_time()
        with contextlib.redirect_stdout(io.StringIO()):
            show_rig(ask(path, Wish(what_if=True), None), as_json=False)
        times.append((time.perf_counter() - start, time.process_time() - spent))
    return times


def whole(*arguments: str) -> list[tuple[float, float]]:
    """Whole runs of the command: clock, processor."""
    times = []
    for _ in range(ROUNDS):
        start, spent = time.perf_counter(), _children()
        command = [sys.executable, "-m", "stampreader", *arguments]
        subprocess.run(command, capture_output=True, check=False)
        times.append((time.perf_counter() - start, _children() - spent))
    return times


def _children() -> float:
    used = os.times()
    return used.children_user + used.children_system


def show(name: str, times: list[tuple[float, float]]) -> None:
    """One line: medians in milliseconds."""
    clock, processor = (1000 * statistics.median(column) for column in zip(*times, strict=True))
    print(f"{name:<42} {clock:7.1f} ms on the clock {processor:7.1f} ms of the processor")


def main() -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_DATA_HOME"] = folder  # no register
        path = Path(folder) / "twenty.toml"
        path.write_text(twenty_points(), "utf-8")
        show("work of rig --what-if, loaded", inside(path))
        show("whole run: stampreader rig --help", whole("rig", "--help"))
        show("whole run: stampreader rig --what-if", whole("rig", str(path), "--what-if"))


if __name__ == "__main__":
    main()

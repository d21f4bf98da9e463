"""How well and how fast stamps are read: `python tests/bench.py [FOLDER]`.

FOLDER holds photos and a `truth.json` (see `test_images/README.md`); without one the photos of
the repository are read. Everything runs in this one process on two cores, Tesseract left out
unless it is named in `--readers`. `--against tesseract,rapidocr,easyocr` reads the same photos
with general readers too, given every help (see `bench_reader/general.py`).
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import cv2
import measure
from bench_reader import chart, speed

HERE = Path(__file__).parent
OURS = "stampreader"
Rows = list[dict[str, Any]]


def general(name: str, rows: Rows, python: str) -> list[dict[str, Any]] | None:
    """Records of a general reader; `None`, and a line that says so, if it is not installed."""
    jobs = [
        {"photo": row["photo"], "panels": [c["panel"] for c in row["connectors"]]} for row in rows
    ]
    done = subprocess.run(
        [python, str(HERE / "bench_reader" / "general.py"), name],
        input="\n".join(map(json.dumps, jobs)), text=True,
        capture_output=True, check=False,
    )  # fmt: skip
    if done.returncode == 3:
        print(done.stderr.strip().splitlines()[-1] + "; left out.")
        return None
    if done.returncode:
        raise SystemExit(f"{name} failed:\n{done.stderr[-2000:]}")
    return [json.loads(line) for line in done.stdout.splitlines() if line.startswith("{")]


def compare(rows: Rows, own: Rows, names: list[str], python: str) -> dict[str, Any]:
    """Print and give the counts of our reader and of the general ones on the same photos."""
    read = {OURS: own}
    for name in names:
        records = general(name, rows, python)
        if records is not None:
            read[name] = records
    totals = {}
    print(
        f"\n{'':14}{'triples right':>15}{'figures right':>15}{'wrong answers':>15}{'s a photo':>11}"
    )
    for name, records in read.items():
        score = measure.scores(zip(rows, records, strict=True))["all"]
        totals[name] = {**score.counts, "seconds": sum(r["seconds"] for r in records) / len(rows)}
        print(
            f"{name:14}{score.share('triple right', 'readable'):13.1f} %"
            f"{score.share('figure right', 'figure'):13.1f} %"
            f"{score.share('proposed wrong', 'proposed'):13.1f} %{totals[name]['seconds']:11.2f}"
        )
    return totals


def pace(
    photos: list[Path], largest: Path, names: list[str], seconds: list[float]
) -> dict[str, float]:
    """Print and give seconds a photo, memory and throughput."""
    sizes = [speed.pixels(path) for path in photos]
    big = [s for s, size in zip(seconds, sizes, strict=True) if size >= speed.MEGAPIXELS_12]
    found = {f"seconds {k}": v for k, v in speed.times(seconds).items()}
    if big:
        found |= {f"seconds 12 MP {k}": v for k, v in speed.times(big).items()}
    found["megapixels of the memory photo"] = speed.pixels(largest) / 1e6
    found["peak MB"] = speed.peak_MB(largest, names)
    found["folder seconds"] = speed.folder_seconds(photos, names)
    for kind, flag in (("grey", cv2.IMREAD_GRAYSCALE), ("colour", cv2.IMREAD_COLOR)):
        found[f"decoding {kind} seconds"] = speed.decode_seconds(photos, flag)
        found[f"folder / decoding {kind}"] = (
            found["folder seconds"] / found[f"decoding {kind} seconds"]
        )
    print(f"\n{len(photos)} photos, readers {', '.join(names)}, warm, one process, 2 cores:")
    for name, value in found.items():
        print(f"  {name:32}{value:10.3f}")
    return found


def options(arguments: list[str] | None) -> argparse.Namespace:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path, default=HERE.parent / "test_images")
    parser.add_argument("--limit", type=int, help="only so many photos, spread evenly")
    parser.add_argument("--readers", default="net,line", help="readers of ours, with commas")
    parser.add_argument("--against", default="", help="tesseract,rapidocr,easyocr")
    parser.add_argument("--python", default=sys.executable, help="Python that has those installed")
    parser.add_argument("--no-speed", action="store_true", help="only what was read")
    parser.add_argument("--json", type=Path, help="write all figures to this file")
    parser.add_argument("--chart", type=Path, help="draw the comparison as a .png")
    return parser.parse_args(arguments)


def main(arguments: list[str] | None = None) -> int:
    """Read, count, time, print."""
    given = options(arguments)
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, sorted(os.sched_getaffinity(0))[:2])
    rows = measure.load_truth(given.folder)
    largest = max((Path(row["photo"]) for row in rows), key=speed.pixels)
    step = max(1, len(rows) // given.limit) if given.limit else 1
    rows = rows[::step][: given.limit]
    photos, names = [Path(row["photo"]) for row in rows], given.readers.split(",")
    cv2.setNumThreads(2)
    records, seconds = speed.read_warm(photos, names)
    by_group = measure.scores(zip(rows, records, strict=True))
    print(measure.table(by_group))
    out: dict[str, Any] = {"photos": len(rows), "scores": {g: s.row() for g, s in by_group.items()}}
    if not given.no_speed:
        out["pace"] = pace(photos, largest, names, seconds)
    against = [name for name in given.against.split(",") if name]
    out["against"] = compare(rows, records, against, given.python) if against else {}
    if given.json:
        given.json.write_text(json.dumps(out, indent=1) + "\n", "utf-8")
    if given.chart and out["against"]:
        chart.draw(given.chart, out["against"], len(rows))
    return 0


if __name__ == "__main__":
    sys.exit(main())

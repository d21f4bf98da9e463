"""How well worn faces are read from stacks of shots, against the best single shot.

    python tests/bench_relief.py FOLDER [--speed] [--readers net,line] [--only stack-0002,…]

FOLDER holds what `python -m stampreader.train.photos --kind stack` wrote: shots, truth.json and
glyphs.json. Prints, for each degree of wear and for the hardest third (the stacks whose best single
shot shows least), figures and triples right by a single shot, by the best single shot (chosen with
the truth in hand, as no person can) and by the stack; what was invented on blank faces; what was
sure and wrong; how far registered shots lie apart, against the truth; how often proposed figures
are right at the confidence they state. `--speed` times six shots of 12 megapixels instead.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from stampreader.errors import StampError
from stampreader.photo import load_photo
from stampreader.reading import default_desk
from stampreader.reading.shots import StackReading, read_shots
from stampreader.reading.walk import read_with
from stampreader.words import SLOTS, Reading, State

Values = tuple[float | None, ...]


@dataclass
class Case:
    """One stack with what is true of it and what was read."""

    name: str
    degree: int
    blank: bool
    method: str
    truth: Values
    singles: list[Values] = field(default_factory=list)
    sure: list[tuple[float | None, float | None]] = field(default_factory=list)
    stack: Values = (None, None, None)
    refused: str = ""
    seconds: float = 0.0
    apart: list[float] = field(default_factory=list)
    stated: list[tuple[float, bool]] = field(default_factory=list)

    def right(self, values: Values) -> int:
        """How many stamped figures are right."""
        return sum(t is not None and t == v for t, v in zip(self.truth, values, strict=True))

    @property
    def stamped(self) -> int:
        """How many figures are stamped."""
        return sum(t is not None for t in self.truth)

    @property
    def best(self) -> int:
        """Figures right on the single shot that shows most."""
        return max((self.right(v) for v in self.singles), default=0)

    @property
    def single_triples(self) -> float:
        """Share of single shots on which all figures are right."""
        return float(np.mean([self.right(v) == self.stamped for v in self.singles]))

    @property
    def all_right(self) -> bool:
        """Whether the stack gives every stamped figure and no other."""
        return self.truth == self.stack


def values_of(reading: Reading) -> Values:
    """Figures of the first connector, as numbers."""
    if not reading.stamps:
        return (None, None, None)
    found = (reading.stamps[0].figure(slot).kN for slot in SLOTS)
    return tuple(None if kN is None else float(kN) for kN in found)


def sure_values(reading: Reading, truth: Values) -> list[tuple[float | None, float | None]]:
    """Pairs (true, read) of figures read as sure."""
    out = []
    for stamp in reading.stamps[:1]:
        for slot, true in zip(SLOTS, truth, strict=True):
            figure = stamp.figure(slot)
            if figure.state is State.SURE and figure.kN is not None:
                out.append((true, float(figure.kN)))
    return out


def stated_values(reading: Reading, truth: Values) -> list[tuple[float, bool]]:
    """Confidence of every figure proposed, and whether it is right."""
    pairs = [
        (stamp.figure(slot), true)
        for stamp in reading.stamps[:1]
        for slot, true in zip(SLOTS, truth, strict=True)
    ]
    return [(f.confidence, float(f.kN) == true) for f, true in pairs if f.kN is not None]


def speed(folder: Path, desk: Any) -> None:
    """Time six shots of 12 megapixels from their files to the reading."""
    shots = next(
        s["shots"] for s in json.loads((folder / "truth.json").read_text()) if len(s["shots"]) >= 6
    )
    with tempfile.TemporaryDirectory() as scratch:
        paths = []
        for shot in shots[:6]:
            small = cv2.imread(str(folder / shot["photo"]))
            grown = cv2.resize(small, (4000, round(4000 * small.shape[0] / small.shape[1])))
            border = 3000 - grown.shape[0]
            large = cv2.copyMakeBorder(
                grown, border // 2, border - border // 2, 0, 0, cv2.BORDER_REFLECT
            )
            paths.append(Path(scratch) / shot["photo"])
            cv2.imwrite(str(paths[-1]), large)
        start, own = time.perf_counter(), time.process_time()
        photos = [load_photo(path) for path in paths]
        loaded = time.perf_counter()
        read_shots(photos, desk)
        end = time.perf_counter()
    print(
        f"6 shots of 12 megapixels: {end - start:.1f} s, {loaded - start:.1f} s of it loading; "
        f"{time.process_time() - own:.1f} s of processor time; load average {os.getloadavg()[0]:.1f}"
    )


def registration(found: StackReading, panels: list[np.ndarray]) -> list[float]:
    """Distance of the true panel from where the registration puts it, in pixels of the frame."""
    stack = found.stack
    long = np.linalg.norm(np.subtract(stack.frame.quad[1], stack.frame.quad[0]))
    out = []
    for fit in stack.fits:
        if fit.to_shot is not None and fit.number != stack.reference:
            moved = cv2.perspectiveTransform(panels[stack.reference][None], fit.to_shot)[0]
            apart = np.linalg.norm(moved - panels[fit.number], axis=1).mean()
            out.append(float(apart * stack.frame.size[0] / long))
    return out


def run(folder: Path, record: dict[str, Any], part: dict[str, Any], desk: Any) -> Case:
    """Read one stack by its single shots and as a stack."""
    truth = tuple(record[f"{slot}_kN"] for slot in ("closed", "cross", "open"))
    case = Case(
        record["stack"],
        record["worn_degree"],
        all(v is None for v in truth),
        record["method"],
        tuple(None if v is None else float(v) for v in truth),
    )
    photos = [load_photo(folder / shot["photo"]) for shot in record["shots"]]
    for photo in photos:
        reading = read_with(desk, photo)
        case.singles.append(values_of(reading))
    start = time.perf_counter()
    try:
        found = read_shots(photos, desk)
    except StampError as error:
        case.refused = error.line()
        return case
    case.seconds = time.perf_counter() - start
    case.stack = values_of(found.reading)
    case.sure = sure_values(found.reading, case.truth)
    case.stated = stated_values(found.reading, case.truth)
    panels = [np.array(t["connectors"][0]["panel"], float) for t in part["truths"]]
    case.apart = registration(found, panels)
    return case


def share(part: float, whole: float) -> str:
    """A share in per cent with its counts."""
    return f"{100 * part / whole:.0f} % ({part:g} of {whole:g})" if whole else "-"


def table(title: str, cases: list[Case]) -> None:
    """One block of figures."""
    read = [c for c in cases if not c.blank]
    figures = sum(c.stamped for c in read)
    print(f"{title}: {len(read)} stacks")
    singles = sum(np.mean([c.right(v) for v in c.singles]) for c in read)
    print(f"  figures right, a single shot    {share(round(float(singles), 1), figures)}")
    print(f"  figures right, best single shot {share(sum(c.best for c in read), figures)}")
    print(
        f"  figures right, stack            {share(sum(c.right(c.stack) for c in read), figures)}"
    )
    triples = sum(c.best == c.stamped for c in read)
    print(f"  triples right, best single shot {share(triples, len(read))}")
    print(f"  triples right, stack            {share(sum(c.all_right for c in read), len(read))}")


def hardest(cases: list[Case]) -> list[Case]:
    """The third of the stamped stacks whose single shots show least."""
    read = [c for c in cases if not c.blank]
    shown = sorted(read, key=lambda c: float(np.mean([c.right(v) for v in c.singles])))
    return shown[: max(1, len(read) // 3)]


def report(cases: list[Case]) -> None:
    """Everything measured."""
    for degree in (1, 2, 3):
        table(f"wear {degree}", [c for c in cases if c.degree == degree])
    table("hardest third", hardest(cases))
    table("all", cases)
    blanks = [c for c in cases if c.blank]
    invented = sum(v is not None for c in blanks for v in c.stack)
    alone = sum(any(v is not None for v in s) for c in blanks for s in c.singles)
    shots = sum(len(c.singles) for c in blanks)
    print(f"blank: {len(blanks)} stacks; figures invented by the stack: {invented}")
    print(f"  single shots of blank faces with an invented figure: {share(alone, shots)}")
    sure = [pair for c in cases for pair in c.sure]
    print(f"sure figures of stacks: {len(sure)}, wrong: {sum(a != b for a, b in sure)}")
    wrong = sum(
        v is not None and v != t for c in cases for v, t in zip(c.stack, c.truth, strict=True)
    )
    proposed = sum(v is not None for c in cases for v in c.stack)
    print(f"proposed by stacks and wrong: {share(wrong, proposed)}")
    for low, high in ((0.0, 0.3), (0.3, 0.6), (0.6, 0.9), (0.9, 1.0)):
        stated = [right for c in cases for value, right in c.stated if low <= value < high]
        print(f"proposed with confidence {low} to {high}: right {share(sum(stated), len(stated))}")
    refused = [c for c in cases if c.refused]
    print(f"stacks refused: {len(refused)}")
    apart = [d for c in cases for d in c.apart]
    if apart:
        print(
            f"registered shots lie {np.median(apart):.2f} pixels apart (median of {len(apart)}; "
            f"nine in ten under {np.quantile(apart, 0.9):.2f})"
        )


def main() -> int:
    """Read all stacks of a folder and print what was measured."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--readers", default="net,line")
    parser.add_argument("--speed", action="store_true", help="time six shots of 12 megapixels")
    parser.add_argument("--only", help="names of stacks, separated by commas")
    args = parser.parse_args()
    desk = default_desk(args.readers.split(","))
    if args.speed:
        speed(args.folder, desk)
        return 0
    cases = []
    for path in sorted((args.folder / ".parts").glob("stack-*.json")):
        part = json.loads(path.read_text())
        if args.only and path.stem not in args.only.split(","):
            continue
        first = part["truths"][0]
        record = {
            **first,
            "stack": path.stem,
            "shots": part["truths"],
            "worn_degree": first["connectors"][0]["worn_degree"],
        }
        case = run(args.folder, record, part, desk)
        cases.append(case)
        print(
            f"{case.name} wear {case.degree} {case.method}{' blank' if case.blank else ''} "
            f"true {case.truth} best {case.best} stack {case.stack} {case.seconds:.1f} s "
            f"{case.refused}",
            flush=True,
        )
    report(cases)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())

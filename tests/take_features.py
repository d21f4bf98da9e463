"""Scores for calibration: `python tests/take_features.py FOLDER OUT.json [--jobs 2]`.

Reads every photo of a folder that trained nothing and was tuned on by nobody, and writes, for each
connector, the figures that no named doubt keeps from being sure, with their score and whether they
are right. `glyph` repeats the score, the least of glyph, slot and direction. `python -m stampreader.train.calibrate OUT.json` chooses the threshold from them.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import measure

from stampreader.photo import load_photo
from stampreader.reading import as_record
from stampreader.reading.desk import Desk, default_desk
from stampreader.reading.walk import read_with

READERS = ("net", "line")


def open_desk() -> Desk:
    """The readers with every threshold of a score taken away; named doubts stay."""
    desk = default_desk(list(READERS))
    return replace(desk, caps=replace(desk.caps, sure_at=0.0, glyph_at=0.0, calibrated=True))


def free_figures(truth: Mapping[str, Any], record: Mapping[str, Any]) -> list[dict[str, Any]]:
    """One object a connector in the photo, true or only seen, with its free figures."""
    read = record.get("connectors") or []
    pairs = measure.pair(truth["connectors"], read)
    known = [id(found) for _, found in pairs if found is not None]
    nothing = dict.fromkeys(f"{slot}_kN" for slot in measure.SLOTS)
    pairs += [(nothing, found) for found in read if id(found) not in known]
    rows = []
    for true, found in pairs:
        figures = [
            {
                "score": float(figure["confidence"]),
                "glyph": float(figure["confidence"]),
                "right": measure.value(figure["kN"]) == measure.value(true[f"{slot}_kN"]),
            }
            for slot, figure in (found["figures"].items() if found else ())
            if figure["state"] == "sure" and figure["kN"] is not None
        ]
        rows.append({"photo": Path(truth["photo"]).name, "figures": figures})
    return rows


_desk: list[Desk] = []


def _start() -> None:
    cv2.setNumThreads(1)
    _desk.append(open_desk())


def _take(truth: Mapping[str, Any]) -> list[dict[str, Any]]:
    return free_figures(truth, as_record(read_with(_desk[0], load_photo(Path(truth["photo"])))))


def main() -> None:
    """Read the folder and write the features."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--jobs", type=int, default=2)
    given = parser.parse_args()
    truths = measure.load_truth(given.folder)
    with ProcessPoolExecutor(given.jobs, initializer=_start) as pool:
        rows = [row for found in pool.map(_take, truths) for row in found]
    given.out.write_text(json.dumps(rows, indent=0) + "\n", "utf-8")
    figures = [figure for row in rows for figure in row["figures"]]
    wrong = sum(not figure["right"] for figure in figures)
    print(f"{len(rows)} connectors, {len(figures)} figures free to be sure, {wrong} of them wrong")


if __name__ == "__main__":
    main()

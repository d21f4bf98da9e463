"""Readings against the truth of a folder of photos: counts that the benchmark and the tests share.

A truth file is a list (or `{"photos": […]}`) with one object a photo: `photo`, `connectors` with
`closed_kN`, `cross_kN`, `open_kN`, `marks`, `readable`, `difficulty`, `method` and `panel`.
A figure is right if the value proposed for its slot, sure or not, is the one stamped; a triple is
right if all three slots are, an empty slot staying empty. A blank (nothing that could be read) is
kept if nothing wrong is called sure, and silent if nothing is proposed at all.
"""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np

SLOTS = ("closed", "cross", "open")
Truth = Mapping[str, Any]


def load_truth(folder: Path) -> list[dict[str, Any]]:
    """The truth of a folder's photos, `photo` made a path that can be opened."""
    raw = json.loads((folder / "truth.json").read_text("utf-8"))
    rows = raw["photos"] if isinstance(raw, dict) else raw
    return [{**row, "photo": str(folder / row["photo"])} for row in rows]


@dataclass
class Score:
    """What was counted for one group of connectors."""

    counts: Counter[str] = field(default_factory=Counter)

    def add(self, name: str, count: int | bool = 1) -> None:
        """Count something."""
        self.counts[name] += int(count)

    def share(self, part: str, whole: str) -> float:
        """A share in percent, NaN where nothing was counted."""
        return 100 * self.counts[part] / self.counts[whole] if self.counts[whole] else float("nan")

    def row(self) -> dict[str, Any]:
        """The shares as the benchmark prints them."""
        c = self.counts
        return {
            "connectors": c["connectors"],
            "figures right": self.share("figure right", "figure"),
            "triples right": self.share("triple right", "readable"),
            "sure share": self.share("figure sure", "figure"),
            "sure and wrong": c["sure wrong"],
            "sure": c["sure"],
            "blank": c["blank"],
            "blank kept": self.share("blank kept", "blank"),
            "blank silent": self.share("blank silent", "blank"),
            "proposed wrong": self.share("proposed wrong", "proposed"),
            "marks recall": self.share("mark found", "mark"),
            "marks precision": self.share("mark right", "mark read"),
        }


def value(number: Any) -> Decimal | None:
    """A figure as a decimal, `None` for none."""
    return None if number is None else Decimal(str(number)).normalize()


def _centre(points: Sequence[Sequence[float]] | None) -> np.ndarray:
    return np.asarray(points, float).mean(0) if points else np.array([1e9, 1e9])


def pair(truths: Sequence[Truth], read: Sequence[Truth]) -> list[tuple[Truth, Truth | None]]:
    """Each true connector with the reading nearest to its stamped panel; the rest `None`."""
    if len(truths) == 1 and len(read) == 1:
        return [(truths[0], read[0])]
    far = sorted(
        (float(np.hypot(*(_centre(t.get("panel")) - _centre(_outline(r))))), i, j)
        for i, t in enumerate(truths)
        for j, r in enumerate(read)
    )
    taken: dict[int, int] = {}
    for _, i, j in far:
        if i not in taken and j not in taken.values():
            taken[i] = j
    return [(t, read[taken[i]] if i in taken else None) for i, t in enumerate(truths)]


def _outline(read: Truth) -> Sequence[Sequence[float]] | None:
    boxes = [f["box"] for f in read["figures"].values() if f.get("box")]
    return [p for box in boxes for p in box] or read.get("box")


def count(score: Score, truth: Truth, read: Truth | None) -> None:
    """Count one connector."""
    score.add("connectors")
    figures = read["figures"] if read else {}
    right, invented, silent = True, False, True
    for slot in SLOTS:
        wanted = value(truth[f"{slot}_kN"])
        got = figures.get(slot) or {"kN": None, "state": "none"}
        proposed, sure = value(got["kN"]), got["state"] == "sure"
        right &= proposed == wanted
        score.add("sure", sure)
        score.add("sure wrong", sure and proposed != wanted)
        invented |= sure and proposed != wanted
        silent &= proposed is None
        score.add("proposed", proposed is not None)
        score.add("proposed wrong", proposed is not None and proposed != wanted)
        if truth["readable"] and wanted is not None:
            score.add("figure")
            score.add("figure right", proposed == wanted)
            score.add("figure sure", sure and proposed == wanted)
    if truth["readable"]:
        score.add("readable")
        score.add("triple right", right)
        wanted_marks = Counter(truth["marks"])
        marks = Counter(m["text"] for m in (read["marks"] if read else []))
        score.add("mark", wanted_marks.total())
        score.add("mark found", (wanted_marks & marks).total())
        score.add("mark read", marks.total())
        score.add("mark right", (wanted_marks & marks).total())
    else:
        score.add("blank")
        score.add("blank kept", not invented)
        score.add("blank silent", silent)


def scores(pairs: Iterable[tuple[Truth, Mapping[str, Any]]]) -> dict[str, Score]:
    """Scores of all photos, by difficulty, by method and in all.

    Args:
        pairs: a photo's truth and its reading as `reading.as_record` gives it.
    """
    out: dict[str, Score] = defaultdict(Score)
    for truth, record in pairs:
        for true, read in pair(truth["connectors"], record.get("connectors") or []):
            groups = ["all", str(true["difficulty"]), str(true.get("method"))]
            if true["difficulty"] in ("easy", "medium"):
                groups.append("easy + medium")
            for group in groups:
                count(out[group], true, read)
    return dict(out)


def table(by_group: Mapping[str, Score]) -> str:
    """The scores as a table of text."""
    names = list(Score().row())
    lines = ["  ".join([f"{'':14}", *(f"{n:>15}" for n in names)])]
    first = ["all", "easy + medium", "easy", "medium", "hard", "unreadable"]
    for group in [*(g for g in first if g in by_group), *sorted(set(by_group) - set(first))]:
        cells = [
            f"{v:15.1f}" if isinstance(v, float) else f"{v:15}"
            for v in by_group[group].row().values()
        ]
        lines.append("  ".join([f"{group:14}", *cells]))
    return "\n".join(lines)

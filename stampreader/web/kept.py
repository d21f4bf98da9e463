"""What was typed, taken out or skipped but not decided yet, kept in a file beside the register.

A decision goes into the register at once. The rest of a sitting would be lost with the program;
so it is written here after every answer, and read again when the review goes on. What is kept is
tied to the photos it was said of, so that it never falls on another connector.
"""

from __future__ import annotations

import json
import os
from collections.abc import Collection, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

from stampreader.confirm import Bench, Change
from stampreader.errors import RegisterError
from stampreader.words import Arrival, Slot

DEPTH = 40
"""Answers that can still be undone after the program was started again."""
FORM = 1


def kept_place(register: Path) -> Path:
    """The file beside a register."""
    return register.with_name(register.name + ".sitting.json")


def keep_benches(place: Path, benches: Mapping[str, Bench], alive: Collection[str]) -> None:
    """Write the benches, all or nothing; those of other deliveries stay as they were kept.

    Args:
        place: the file.
        benches: those of this sitting, by delivery.
        alive: deliveries of which something waits; the rest is forgotten.

    Raises:
        RegisterError: the file cannot be written.
    """
    kept = _kept(place) | {n: _chain(b) for n, b in benches.items() if _is_worth_keeping(b)}
    kept = {name: chain for name, chain in kept.items() if name in alive}
    text = json.dumps({"form": FORM, "deliveries": kept}, ensure_ascii=False)
    half = place.with_name(place.name + ".new")
    try:
        if not kept:
            place.unlink(missing_ok=True)
            return
        with half.open("w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        half.replace(place)
    except OSError as error:
        with suppress(OSError):
            half.unlink(missing_ok=True)
        raise RegisterError(
            f"what was typed cannot be kept beside the register ({error.strerror})",
            remedy="Check the register's folder and the free space; what was confirmed is stored.",
        ) from error


def kept_bench(place: Path, delivery: str, bench: Bench) -> Bench:
    """The bench with what was kept of it; as it is where nothing was, or nothing fits."""
    try:
        steps = _kept(place)[delivery]
        by_photo = {_photo_of(a): a.key for a in bench.arrivals}
        earlier: Bench | None = None
        for step in steps:
            earlier = _bench_of(step, bench, by_photo, earlier)
        return bench if earlier is None else earlier
    except (ValueError, KeyError, TypeError, AttributeError, ArithmeticError):
        return bench


def _kept(place: Path) -> dict[str, Any]:
    """What the file holds, by delivery; nothing if there is none or it is damaged."""
    try:
        kept = json.loads(place.read_text("utf-8"))
        return dict(kept["deliveries"]) if kept["form"] == FORM else {}
    except (OSError, ValueError, KeyError, TypeError):
        return {}


def _is_worth_keeping(bench: Bench) -> bool:
    return bool(bench.alone or bench.skipped or bench.changes or bench.earlier)


def _chain(bench: Bench) -> list[dict[str, Any]]:
    """The bench and those before it, oldest first."""
    steps: list[dict[str, Any]] = []
    step: Bench | None = bench
    while step is not None and len(steps) < DEPTH:
        steps.append(_step(step))
        step = step.earlier
    return steps[::-1]


def _step(bench: Bench) -> dict[str, Any]:
    photos = {a.key: _photo_of(a) for a in bench.arrivals}
    return {
        "stored": bench.stored,
        "alone": _named(bench.alone, photos),
        "skipped": _named(bench.skipped, photos),
        "changes": {
            photos[key]: _change(change) for key, change in bench.changes.items() if key in photos
        },
    }


def _named(keys: frozenset[int], photos: Mapping[int, str]) -> list[str]:
    return [photos[key] for key in sorted(keys) if key in photos]


def _photo_of(arrival: Arrival) -> str:
    """What an arrival is known by: its first photo's content and the stamp on it."""
    return f"{arrival.seen[0].photo}/{arrival.seen[0].number}" if arrival.seen else ""


def _change(change: Change) -> dict[str, Any]:
    figures = change.figures
    return {
        "figures": None
        if figures is None
        else {slot.value: None if kN is None else str(kN) for slot, kN in figures.items()},
        "marks": None if change.marks is None else list(change.marks),
        "fields": None if change.fields is None else dict(change.fields),
    }


def _bench_of(
    step: Mapping[str, Any], bench: Bench, by_photo: Mapping[str, int], earlier: Bench | None
) -> Bench:
    return replace(
        bench,
        alone=_keys(step["alone"], by_photo),
        skipped=_keys(step["skipped"], by_photo),
        changes={
            by_photo[photo]: _change_of(change)
            for photo, change in step["changes"].items()
            if photo in by_photo
        },
        earlier=earlier,
        stored=bool(step["stored"]),
    )


def _keys(photos: Sequence[str], by_photo: Mapping[str, int]) -> frozenset[int]:
    return frozenset(by_photo[photo] for photo in photos if photo in by_photo)


def _change_of(kept: Mapping[str, Any]) -> Change:
    figures = kept["figures"]
    return Change(
        figures=None
        if figures is None
        else {Slot(slot): None if kN is None else Decimal(str(kN)) for slot, kN in figures.items()},
        marks=None if kept["marks"] is None else tuple(map(str, kept["marks"])),
        fields=None
        if kept["fields"] is None
        else {str(k): str(v) for k, v in kept["fields"].items()},
    )

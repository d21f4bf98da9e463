"""A reading as JSON and back, with nothing lost: the raw values kept beside the confirmed ones."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from stampreader.words import (
    SLOTS,
    Doubt,
    Figure,
    Mark,
    Quad,
    Reading,
    Stamp,
    State,
)

Json = Mapping[str, Any]


def reading_to_json(reading: Reading) -> dict[str, Any]:
    """The whole reading; strengths as decimal strings."""
    return {
        "photo": reading.photo,
        "sha256": reading.sha256,
        "size": list(reading.size),
        "stamps": [stamp_to_json(stamp) for stamp in reading.stamps],
        "labels": list(reading.labels),
        "readers": list(reading.readers),
        "notes": list(reading.notes),
        "seconds": reading.seconds,
        "taken_on": reading.taken_on,
        "extras": dict(reading.extras),
    }


def stamp_to_json(stamp: Stamp) -> dict[str, Any]:
    """One stamp."""
    return {
        "figures": {slot.value: _figure_to_json(stamp.figure(slot)) for slot in SLOTS},
        "marks": [
            {"text": m.text, "confidence": m.confidence, "box": _points(m.box)} for m in stamp.marks
        ],
        "serial": stamp.serial,
        "notes": list(stamp.notes),
        "angle_deg": stamp.angle_deg,
        "box": _points(stamp.box),
    }


def _figure_to_json(figure: Figure) -> dict[str, Any]:
    return {
        "kN": None if figure.kN is None else str(figure.kN),
        "state": figure.state.value,
        "confidence": figure.confidence,
        "box": _points(figure.box),
        "doubts": [doubt.name for doubt in figure.doubts],
    }


def _points(box: Quad | None) -> list[list[float]] | None:
    return None if box is None else [[float(x), float(y)] for x, y in box]


def reading_from_json(data: Json) -> Reading:
    """The reading as it was stored."""
    width, height = data["size"]
    return Reading(
        photo=data["photo"],
        sha256=data["sha256"],
        size=(width, height),
        stamps=tuple(stamp_from_json(stamp) for stamp in data["stamps"]),
        labels=tuple(data["labels"]),
        readers=tuple(data["readers"]),
        notes=tuple(data["notes"]),
        seconds=data["seconds"],
        taken_on=data["taken_on"],
        extras=dict(data["extras"]),
    )


def stamp_from_json(data: Json) -> Stamp:
    """One stamp as it was stored."""
    figures = {slot.value: _figure_from_json(data["figures"][slot.value]) for slot in SLOTS}
    return Stamp(
        **figures,
        marks=tuple(Mark(m["text"], m["confidence"], _quad(m["box"])) for m in data["marks"]),
        serial=data["serial"],
        notes=tuple(data["notes"]),
        angle_deg=data["angle_deg"],
        box=_quad(data["box"]),
    )


def _figure_from_json(data: Json) -> Figure:
    return Figure(
        kN=None if data["kN"] is None else Decimal(data["kN"]),
        state=State(data["state"]),
        confidence=data["confidence"],
        box=_quad(data["box"]),
        doubts=tuple(Doubt[name] for name in data["doubts"]),
    )


def _quad(points: Any) -> Quad | None:
    if points is None:
        return None
    a, b, c, d = ((float(x), float(y)) for x, y in points)
    return (a, b, c, d)


def raw_for_history(stamp: Stamp) -> dict[str, Any]:
    """The raw values that go into the history beside the confirmed ones; no fractional numbers."""
    return {
        "figures": {
            slot.value: {
                "kN": None if figure.kN is None else str(figure.kN),
                "state": figure.state.value,
                "confidence": f"{figure.confidence:.4f}",
                "doubts": [doubt.name for doubt in figure.doubts],
            }
            for slot in SLOTS
            for figure in (stamp.figure(slot),)
        },
        "marks": [mark.text for mark in stamp.marks],
        "serial": stamp.serial,
    }

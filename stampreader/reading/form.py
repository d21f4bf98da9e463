"""The JSON forms of a reading: the line `stampreader read --json` prints, and a lossless record.

The line is for people and other programs; the record is what the register keeps, and
`from_record` gives the same `Reading` back. Strengths are decimals; JSON writers print whole ones
as integers. Named doubts are written by their name in small letters, which stays the same when
the wording changes.
"""

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
    Slot,
    Stamp,
    State,
)

DIGITS = 4
"""Decimals of confidences; boxes have one."""


def as_line(reading: Reading) -> dict[str, Any]:
    """One reading as the object printed by `read --json`.

    The fields at the top speak of the first connector; `connectors` lists all when there are
    several. `outcome` is the worst of all connectors.
    """
    first = reading.stamps[0] if reading.stamps else Stamp()
    line: dict[str, Any] = {
        "photo": reading.photo,
        "sha256": reading.sha256,
        "outcome": reading.outcome.value,
        **{f"{slot.value}_kN": first.figure(slot).kN for slot in SLOTS},
        **_stamp(first),
    }
    if len(reading.stamps) > 1:
        line["connectors"] = [_connector(stamp) for stamp in reading.stamps]
    line["labels"] = list(reading.labels)
    line["size"] = list(reading.size)
    line["taken_on"] = reading.taken_on
    line["readers"] = list(reading.readers)
    line["notes"] = [*reading.notes, *(note for stamp in reading.stamps for note in stamp.notes)]
    line["seconds"] = round(reading.seconds, 3)
    return line


def as_record(reading: Reading) -> dict[str, Any]:
    """One reading for keeping; `from_record` is its inverse.

    Confidences keep four decimals and boxes a tenth of a pixel; everything else is exact.
    """
    return {
        "photo": reading.photo,
        "sha256": reading.sha256,
        "size": list(reading.size),
        "connectors": [_kept(stamp) for stamp in reading.stamps],
        "labels": list(reading.labels),
        "readers": list(reading.readers),
        "notes": list(reading.notes),
        "seconds": round(reading.seconds, 3),
        "taken_on": reading.taken_on,
        "extras": dict(reading.extras),
    }


def from_record(record: Mapping[str, Any]) -> Reading:
    """The reading kept in a record, as JSON gives it back."""
    return Reading(
        photo=record["photo"],
        sha256=record["sha256"],
        size=(int(record["size"][0]), int(record["size"][1])),
        stamps=tuple(_stamp_back(item) for item in record["connectors"]),
        labels=tuple(record["labels"]),
        readers=tuple(record["readers"]),
        notes=tuple(record["notes"]),
        seconds=float(record["seconds"]),
        taken_on=record["taken_on"],
        extras=dict(record["extras"]),
    )


def _kept(stamp: Stamp) -> dict[str, Any]:
    """A connector of a record: strengths as text, so that 27.0 stays 27.0."""
    item = {**_connector(stamp), "notes": list(stamp.notes)}
    for slot in SLOTS:
        kN = stamp.figure(slot).kN
        text = None if kN is None else str(kN)
        item["figures"][slot.value]["kN"] = item[f"{slot.value}_kN"] = text
    return item


def _connector(stamp: Stamp) -> dict[str, Any]:
    strengths = {f"{slot.value}_kN": stamp.figure(slot).kN for slot in SLOTS}
    return {"outcome": stamp.outcome.value, **strengths, **_stamp(stamp)}


def _stamp(stamp: Stamp) -> dict[str, Any]:
    return {
        "figures": {slot.value: _figure(stamp.figure(slot)) for slot in SLOTS},
        "marks": [
            {"text": m.text, "confidence": _share(m.confidence), "box": _box(m.box)}
            for m in stamp.marks
        ],
        "serial": stamp.serial,
        "angle_deg": round(stamp.angle_deg, 1),
        "box": _box(stamp.box),
    }


def _figure(figure: Figure) -> dict[str, Any]:
    return {
        "kN": figure.kN,
        "state": figure.state.value,
        "confidence": _share(figure.confidence),
        "box": _box(figure.box),
        "doubts": [doubt.name.lower() for doubt in figure.doubts],
    }


def _share(confidence: float) -> float:
    return round(float(confidence), DIGITS)


def _box(box: Quad | None) -> list[list[float]] | None:
    return None if box is None else [[round(float(x), 1), round(float(y), 1)] for x, y in box]


def _stamp_back(item: Mapping[str, Any]) -> Stamp:
    figures = {slot: _figure_back(item["figures"][slot.value]) for slot in SLOTS}
    return Stamp(
        closed=figures[Slot.CLOSED],
        cross=figures[Slot.CROSS],
        open=figures[Slot.OPEN],
        marks=tuple(
            Mark(m["text"], float(m["confidence"]), _box_back(m["box"])) for m in item["marks"]
        ),
        serial=item["serial"],
        notes=tuple(item["notes"]),
        angle_deg=float(item["angle_deg"]),
        box=_box_back(item["box"]),
    )


def _figure_back(item: Mapping[str, Any]) -> Figure:
    return Figure(
        kN=None if item["kN"] is None else Decimal(str(item["kN"])),
        state=State(item["state"]),
        confidence=float(item["confidence"]),
        box=_box_back(item["box"]),
        doubts=tuple(Doubt[name.upper()] for name in item["doubts"]),
    )


def _box_back(box: Any) -> Quad | None:
    if box is None:
        return None
    a, b, c, d = ((float(x), float(y)) for x, y in box)
    return a, b, c, d

"""Inspections: what a competent person looked at, what was found, and the result that follows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from stampreader.errors import UsageError
from stampreader.register.deriving import Connector
from stampreader.register.events import Event, Kind
from stampreader.register.life import clean_note, take_step
from stampreader.register.raw import raw_for_history
from stampreader.register.store import Register
from stampreader.words import Sighting


class Result(StrEnum):
    """What was found at one point of an inspection."""

    PASS = "pass"
    FAIL = "fail"
    NOT_APPLICABLE = "not applicable"


@dataclass(frozen=True, slots=True)
class Point:
    """One point looked at: its words, what was found, and a note."""

    point: str
    result: Result
    note: str = ""


@dataclass(frozen=True, slots=True)
class Inspection:
    """One inspection of one connector.

    Attributes:
        points: every point of the check list.
        measured: what was measured, in words with its unit, such as groove depth: 0.8 mm.
        note: a remark on the whole.
        occasion: why it was inspected: at its interval, before service, after an event.
        seen: photos taken at the inspection, with what was read on them.
        verdicts: what comparing each photo with the entry gave, in the order of `seen`.
    """

    points: Sequence[Point]
    measured: Mapping[str, str]
    note: str = ""
    occasion: str = ""
    seen: Sequence[Sighting] = ()
    verdicts: Sequence[str] = ()

    @property
    def result(self) -> Result:
        """Fail if any point fails, else pass; never stored apart from the points."""
        failed = any(point.result is Result.FAIL for point in self.points)
        return Result.FAIL if failed else Result.PASS


def record_inspections(
    register: Register,
    inspections: Sequence[tuple[Connector, Inspection]],
    *,
    who: str,
    at: datetime,
    on: str | None = None,
    retire_because: str = "",
) -> list[Event]:
    """Record inspections, all of them or none; what fails is quarantined, or retired at once.

    Args:
        register: the register.
        inspections: each connector with what was found.
        who: the competent person.
        at: the present time.
        on: the day of the inspection if not today.
        retire_because: retire those that fail, for this reason, instead of quarantining them.

    Raises:
        RefusedStep: the state of a connector does not allow it, or the day cannot be.
        UsageError: nothing was looked at, or a note that cannot be one.
    """
    bodies = {connector.uid: _body(inspection) for connector, inspection in inspections}
    connectors = [connector for connector, _ in inspections]
    failed = [c for c, inspection in inspections if inspection.result is Result.FAIL]
    with register.writing():
        events = take_step(
            register,
            connectors,
            Kind.INSPECTED,
            lambda connector: bodies[connector.uid],
            who=who,
            at=at,
            on=on,
        )
        if retire_because and failed:
            reason = {"reason": clean_note(retire_because, "the reason")}
            events += take_step(register, failed, Kind.RETIRED, reason, who=who, at=at, on=on)
    return events


def _body(inspection: Inspection) -> dict[str, Any]:
    if not any(point.result is not Result.NOT_APPLICABLE for point in inspection.points):
        raise UsageError("no point was looked at", remedy="Give a result for the points.")
    failed = [p for p in inspection.points if p.result is Result.FAIL]
    body: dict[str, Any] = {
        "result": str(inspection.result),
        "points": [_point(point) for point in inspection.points],
        "measured": {
            clean_note(name, "what was measured", most=60): clean_note(value, name, most=60)
            for name, value in inspection.measured.items()
        },
        "reason": "inspection failed: " + "; ".join(map(_found, failed)) if failed else "",
        "note": " ".join(inspection.note.split()),
        "occasion": inspection.occasion,
        "read": [
            {
                "photo": sighting.photo,
                "stamp": sighting.number,
                "readers": sighting.readers,
                "crop": sighting.crop,
                "raw": raw_for_history(sighting.stamp),
                "verdict": verdict,
            }
            for sighting, verdict in zip(inspection.seen, inspection.verdicts, strict=True)
        ],
    }
    return {name: value for name, value in body.items() if value not in ("", [], {})}


def _point(point: Point) -> dict[str, str]:
    note = clean_note(point.note, f"the note on {point.point}") if point.note.strip() else ""
    return {
        "point": point.point,
        "result": str(point.result),
        **({"note": note} if note else {}),
    }


def _found(point: Point) -> str:
    note = " ".join(point.note.split())
    return f"{point.point} ({note})" if note else point.point

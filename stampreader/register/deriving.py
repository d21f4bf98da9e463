"""What a connector is now, worked out from its events alone."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from stampreader.register.conflicts import Known, find_conflicts, in_line, known_by
from stampreader.register.events import Event, Kind
from stampreader.register.steps import Life
from stampreader.words import Slot

TEXT_FIELDS = (
    "id",
    "maker",
    "model",
    "serial",
    "batch",
    "made_on",
    "shape",
    "material",
    "gate",
    "delivery",
    "note",
)
"""Fields of an entry that hold text."""

KN_FIELDS = ("closed_kN", "cross_kN", "open_kN")
"""Fields that hold a strength as stamped, a decimal string in kN."""

FIELDS = (*TEXT_FIELDS, *KN_FIELDS, "marks")
"""Everything a person can confirm or correct of a connector."""


@dataclass(frozen=True, slots=True)
class Connector:
    """A connector as the register knows it now.

    Attributes:
        uid: key: id of the event that registered it.
        id: the readable id on its label.
        life: state of its life.
        life_reason: why it is in that state, where a reason was given.
        place: kit or store where it was last put.
        by_hand: entered without a photo.
        registered_on, in_service_on, inspected_on, retired_on: days, `YYYY-MM-DD`; `inspected_on`
            is the latest passed inspection.
        due_from_on: the day the inspection interval counts from.
        photos: (sha256 of the photo, number of the stamp on it, sha256 of the crop or empty).
        conflicts: what stations that worked apart recorded against each other, in words.
        latest: id of its latest event.
    """

    uid: str
    id: str
    life: Life
    life_reason: str = ""
    maker: str = ""
    model: str = ""
    serial: str = ""
    batch: str = ""
    made_on: str = ""
    shape: str = ""
    material: str = ""
    gate: str = ""
    delivery: str = ""
    note: str = ""
    closed_kN: Decimal | None = None
    cross_kN: Decimal | None = None
    open_kN: Decimal | None = None
    marks: tuple[str, ...] = ()
    place: str = ""
    by_hand: bool = False
    registered_on: str = ""
    in_service_on: str = ""
    inspected_on: str = ""
    retired_on: str = ""
    due_from_on: str = ""
    photos: tuple[tuple[str, int, str], ...] = ()
    conflicts: tuple[str, ...] = ()
    latest: str = ""

    def kN(self, slot: Slot) -> Decimal | None:
        """The confirmed strength of one direction, `None` if none is known."""
        return {
            Slot.CLOSED: self.closed_kN,
            Slot.CROSS: self.cross_kN,
            Slot.OPEN: self.open_kN,
        }[slot]


@dataclass
class _Draft:
    """The connector while its events are gone through."""

    values: dict[str, Any] = field(default_factory=dict)
    life: Life = Life.REGISTERED
    known: Known = field(default_factory=dict)
    stops: list[str] = field(default_factory=list)
    photos: list[tuple[str, int, str]] = field(default_factory=list)

    def turn_to(self, life: Life, event: Event) -> None:
        """Change the state of life; retired and withdrawn are final whatever comes after."""
        if self.life in (Life.RETIRED, Life.WITHDRAWN):
            return
        self.life = life
        self.values["life_reason"] = str(event.body.get("reason", ""))


def derive(events: Iterable[Event]) -> Connector:
    """What the connector is now.

    The events may come in any order: they are gone through in their common order, so every
    register that holds the same events finds the same connector.

    Args:
        events: all events of one connector; the first in order is its `registered`.
    """
    ordered = sorted(events, key=lambda e: e.order)
    draft = _Draft(known={} if in_line(ordered) else known_by(ordered))
    for event in ordered:
        _APPLY[event.kind](draft, event)
        if event.body.get("place") is not None:
            draft.values["place"] = str(event.body["place"])
    return _finished(draft, ordered)


def _finished(draft: _Draft, ordered: Sequence[Event]) -> Connector:
    values = dict(draft.values)
    due_from = values.get("inspected_on") or values.get("in_service_on") or values["registered_on"]
    return Connector(
        **values,
        uid=str(ordered[0].connector),
        life=draft.life,
        due_from_on=due_from,
        photos=tuple(draft.photos),
        conflicts=find_conflicts(ordered),
        latest=ordered[-1].id,
    )


def _take_fields(draft: _Draft, event: Event) -> None:
    for name, value in event.body.get("fields", {}).items():
        if name in KN_FIELDS:
            draft.values[name] = None if value is None else Decimal(value)
        elif name == "marks":
            draft.values[name] = tuple(value or ())
        elif name in TEXT_FIELDS:
            draft.values[name] = value or ""


def _registered(draft: _Draft, event: Event) -> None:
    _take_fields(draft, event)
    draft.values["by_hand"] = bool(event.body.get("by_hand", False))
    draft.values["registered_on"] = event.happened_on
    _take_photos(draft, event)


def _take_photos(draft: _Draft, event: Event) -> None:
    for read in event.body.get("read", ()):
        photo = (read["photo"], int(read["stamp"]), read.get("crop") or "")
        if photo not in draft.photos:
            draft.photos.append(photo)


def _put_in_service(draft: _Draft, event: Event) -> None:
    draft.values.setdefault("in_service_on", event.happened_on)
    if draft.life is Life.REGISTERED:
        draft.turn_to(Life.IN_SERVICE, event)


def _inspected(draft: _Draft, event: Event) -> None:
    _take_photos(draft, event)
    if event.body.get("result") == "fail":
        _quarantined(draft, event)
    elif event.happened_on > draft.values.get("inspected_on", ""):
        draft.values["inspected_on"] = event.happened_on


def _quarantined(draft: _Draft, event: Event) -> None:
    draft.stops.append(event.id)
    draft.turn_to(Life.QUARANTINED, event)


def _released(draft: _Draft, event: Event) -> None:
    """A release lifts only what its recorder knew of, never a quarantine from elsewhere."""
    known = draft.known.get(event.id)
    if known is not None and not known.issuperset(draft.stops):
        return
    if draft.life is Life.QUARANTINED:
        in_service = bool(draft.values.get("in_service_on"))
        draft.turn_to(Life.IN_SERVICE if in_service else Life.REGISTERED, event)


def _retired(draft: _Draft, event: Event) -> None:
    if draft.life not in (Life.RETIRED, Life.WITHDRAWN):
        draft.values["retired_on"] = event.happened_on
    draft.turn_to(Life.RETIRED, event)


def _lost(draft: _Draft, event: Event) -> None:
    draft.stops.append(event.id)
    draft.turn_to(Life.LOST, event)


def _found(draft: _Draft, event: Event) -> None:
    """Found again: nobody knows what happened to it meanwhile, so it stays apart."""
    if draft.life is Life.LOST:
        draft.turn_to(Life.QUARANTINED, event)
        draft.values["life_reason"] = "found again; its history while lost is unknown"


def _withdrawn(draft: _Draft, event: Event) -> None:
    draft.turn_to(Life.WITHDRAWN, event)


def _nothing(draft: _Draft, event: Event) -> None:
    """An event whose only effect is common to all, such as a new place."""


_APPLY: dict[Kind, Callable[[_Draft, Event], None]] = {
    Kind.REGISTERED: _registered,
    Kind.CORRECTED: _take_fields,
    Kind.PUT_IN_SERVICE: _put_in_service,
    Kind.MOVED: _nothing,
    Kind.INSPECTED: _inspected,
    Kind.QUARANTINED: _quarantined,
    Kind.RELEASED: _released,
    Kind.RETIRED: _retired,
    Kind.LOST: _lost,
    Kind.FOUND: _found,
    Kind.WITHDRAWN: _withdrawn,
    Kind.SETTLED: _nothing,
}

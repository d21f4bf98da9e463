"""The words every room shares: slots, states, glyphs, figures, marks, readings.

All values here are frozen and hold no pixels. Strengths are `Decimal` kilonewtons exactly as
stamped; points are `(x, y)` in pixels of the upright photo, x to the right, y downwards.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

Point = tuple[float, float]
Quad = tuple[Point, Point, Point, Point]
"""Four corners: top-left, top-right, bottom-right, bottom-left as the text is read."""


class Slot(StrEnum):
    """The direction of load a strength figure speaks of."""

    CLOSED = "closed"
    CROSS = "cross"
    OPEN = "open"


SLOTS: tuple[Slot, Slot, Slot] = (Slot.CLOSED, Slot.CROSS, Slot.OPEN)


class State(StrEnum):
    """How far a figure that was read may be trusted."""

    SURE = "sure"
    ASK = "ask"
    NONE = "none"


class Doubt(StrEnum):
    """A named reason that caps a figure's state; the value is shown to the person."""

    READERS_DISAGREE = "two readers disagree"
    ONE_READER = "only one reader saw it"
    NO_PICTOGRAM = "no pictogram tells which direction it is for"
    ORDER_ONLY = "the direction was taken from the order alone"
    SLOT_CONFLICT = "pictogram and neighbours point to different directions"
    DIRECTION = "it could be upside down"
    AMBIGUOUS_DIGITS = "6 and 9, or 0, 1 and 8, read the same upside down"
    WEAK_GLYPH = "a character is faint or blurred"
    BELOW_STANDARD = "below the minimum of the standard claimed beside it"
    OUT_OF_RANGE = "outside what connectors are stamped with"
    UNIT = "stamped in a unit other than kN"
    UNIT_MISSING = "no unit seen"
    TWO_VALUES = "two different values were read for this direction"
    TOO_SMALL = "the stamp is too small in the photo; move closer"
    NOT_SEEN = "not seen on this photo"
    OTHER_CONNECTOR = "it may belong to another connector in the photo"
    UNCALIBRATED = "this reader has no calibration"


PICTOGRAMS: tuple[str, ...] = ("<closed>", "<cross>", "<open>", "<along>", "<across>", "<ring>")
"""Pictogram glyph names: a connector outline loaded closed, crosswise or with the gate open; bare
double arrows along or across the spine; a ring drawn round a type letter."""


@dataclass(frozen=True, slots=True)
class Glyph:
    """One character or pictogram found in a photo.

    Attributes:
        char: one character (capitals; digits; `.`, `/`, `:`, `-`) or a name from `PICTOGRAMS`.
        x, y: centre in pixels of the upright photo.
        height_px: height of a capital of this line, in pixels of the upright photo.
        width_px: width of the glyph along the reading direction.
        angle_deg: reading direction, 0 to the right, 90 downwards, in [0, 360).
        confidence: estimated probability that `char` is right, 0 to 1.
        alternatives: other characters with their probability, best first.
        role: probability that the digit or pictogram belongs to (no figure, closed, cross, open,
            a strength whose direction is not shown); `None` from a reader without this vote.
        reader: name of the reader that saw it.
    """

    char: str
    x: float
    y: float
    height_px: float
    width_px: float
    angle_deg: float
    confidence: float
    alternatives: tuple[tuple[str, float], ...] = ()
    role: tuple[float, float, float, float, float] | None = None
    reader: str = ""


@dataclass(frozen=True, slots=True)
class Figure:
    """A strength figure as read for one slot; `kN` is `None` when nothing is proposed."""

    kN: Decimal | None = None
    state: State = State.NONE
    confidence: float = 0.0
    box: Quad | None = None
    doubts: tuple[Doubt, ...] = ()


NOTHING = Figure()


@dataclass(frozen=True, slots=True)
class Mark:
    """A standard mark in normal form, such as `EN 362:2004/B` or `CE 9123`."""

    text: str
    confidence: float = 1.0
    box: Quad | None = None


@dataclass(frozen=True, slots=True)
class Stamp:
    """What is stamped on one connector: figures by slot, marks and loose strings.

    Attributes:
        closed, cross, open: the three figures.
        marks: standard marks found.
        serial: serial or lot string, if one was recognised.
        notes: remarks for the person, one sentence each.
        angle_deg: reading direction of the stamp.
        box: outline of everything read.
    """

    closed: Figure = NOTHING
    cross: Figure = NOTHING
    open: Figure = NOTHING
    marks: tuple[Mark, ...] = ()
    serial: str | None = None
    notes: tuple[str, ...] = ()
    angle_deg: float = 0.0
    box: Quad | None = None

    def figure(self, slot: Slot) -> Figure:
        """The figure of one slot."""
        return {Slot.CLOSED: self.closed, Slot.CROSS: self.cross, Slot.OPEN: self.open}[slot]

    @property
    def outcome(self) -> State:
        """The worst state among the figures there is evidence for; `none` if there is none."""
        states = [
            f.state for f in (self.closed, self.cross, self.open) if f.kN is not None or f.doubts
        ]
        for state in (State.NONE, State.ASK, State.SURE):
            if state in states:
                return state
        return State.NONE


@dataclass(frozen=True, slots=True)
class Reading:
    """What was read on one photo, one `Stamp` a connector.

    Attributes:
        photo: path as given by the user.
        sha256: of the file's bytes, hex.
        size: (width, height) of the upright photo in pixels.
        stamps: one a connector, reading order of the photo; empty if nothing was found.
        labels: texts of QR codes seen in the photo.
        readers: names and versions of the readers used.
        notes: remarks on the whole photo.
        seconds: time the reading took.
    """

    photo: str
    sha256: str
    size: tuple[int, int]
    stamps: tuple[Stamp, ...] = ()
    labels: tuple[str, ...] = ()
    readers: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    seconds: float = 0.0
    taken_on: str | None = None
    extras: dict[str, str] = field(default_factory=dict)

    @property
    def outcome(self) -> State:
        """The worst outcome among the connectors of the photo."""
        states = [s.outcome for s in self.stamps]
        for state in (State.NONE, State.ASK, State.SURE):
            if state in states:
                return state
        return State.NONE


@dataclass(frozen=True, slots=True)
class Sighting:
    """One stamp of one photo, as evidence for one connector.

    Attributes:
        photo: SHA-256 of the photo's bytes, hex.
        number: place of the stamp among those of the photo, from 0.
        stamp: what was read.
        readers: names and versions of the readers.
        crop: SHA-256 of the evidence picture in the register, if there is one.
        path: where the photo lay when it was read.
    """

    photo: str
    number: int
    stamp: Stamp
    readers: str = ""
    crop: str | None = None
    path: str = ""


@dataclass(frozen=True, slots=True)
class Arrival:
    """A connector that arrived, was read, and waits for a person to confirm it.

    Attributes:
        key: its number in the register's list of arrivals.
        delivery: name of the delivery it came with.
        label: readable id seen on a QR label beside it, if any.
        seen: the photos of it, one stamp each.
        notes: remarks on how its photos were matched.
    """

    key: int
    delivery: str
    label: str | None = None
    seen: tuple[Sighting, ...] = ()
    notes: tuple[str, ...] = ()


CAUTION = (
    "A calculation aid only. The maker's instructions, local rules and a competent person decide. "
    "A connector that is worn, deformed, shock-loaded or of unknown history is not put back in "
    "service by a number."
)

"""The values a rig plan is made of: points, what holds them, ropes, anchors, a fall.

Lengths are metres, forces kilonewtons, x to the right; the last coordinate points up.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

from stampreader.words import Slot

Vector = tuple[float, ...]
"""Two or three coordinates in metres, or the parts of a force in kN."""


class Kind(StrEnum):
    """What a point of the plan is."""

    ANCHOR = "anchor"
    JOINT = "joint"
    LOAD = "load"
    HAND = "hand"
    EDGE = "edge"

    @property
    def fixed(self) -> bool:
        """Whether the ground or a person holds it where it is."""
        return self in (Kind.ANCHOR, Kind.HAND, Kind.EDGE)


class Turn(StrEnum):
    """What a rope runs over at a point."""

    PULLEY = "pulley"
    CONNECTOR = "connector"
    EDGE = "edge"


class Way(StrEnum):
    """Which way the ropes move: friction acts against it."""

    RAISING = "raising"
    LOWERING = "lowering"
    HOLDING = "holding"


class Sharing(StrEnum):
    """How the legs of an anchor are taken to share the pull."""

    EXACT = "exact"
    CAUTIOUS = "cautious"
    ONE_LEG = "one leg"
    AS_THREE = "as three"


class Meet(StrEnum):
    """What the strands meet in at a joint: a connector has no rating for a pull three ways."""

    CONNECTOR = "connector"
    KNOT = "knot"
    RING = "ring"
    PLATE = "plate"


@dataclass(frozen=True, slots=True)
class Known:
    """What the register knows of a connector.

    Attributes:
        id: its id in the register.
        name: maker and model, as the table shows it; may be empty.
        closed, cross, open: confirmed figures in kN.
        barred: why it may not be used now (quarantined, overdue, retired …), if so.
        remarks: what else to show beside it, one sentence each.
    """

    id: str
    name: str = ""
    closed: Decimal | None = None
    cross: Decimal | None = None
    open: Decimal | None = None
    barred: str | None = None
    remarks: tuple[str, ...] = ()


Lookup = Callable[[str], Known | None]
"""Finds a connector by its id; `None` for an unknown one."""


@dataclass(frozen=True, slots=True)
class Hold:
    """One piece of hardware that carries the force of a point, a leg or a rope.

    Attributes:
        name: as the table shows it.
        closed, cross, open: a connector's figures in kN, where known.
        strength: of other hardware, in kN.
        loaded: the direction a connector is loaded in.
        keeps: part of the strength that is left, 1 unless the plan says why less.
        why: the plan's reason for `keeps`.
        gate_towards_edge: the gate lies towards an edge.
        id: of a connector in the register.
        barred: why the register bars its use.
        remarks: from the register.
        wanted: the use an open place asks a connector for; such a hold has no figures yet.
    """

    name: str
    closed: Decimal | None = None
    cross: Decimal | None = None
    open: Decimal | None = None
    strength: Decimal | None = None
    loaded: Slot = Slot.CLOSED
    keeps: Decimal = Decimal(1)
    why: str = ""
    gate_towards_edge: bool = False
    id: str | None = None
    barred: str | None = None
    remarks: tuple[str, ...] = ()
    wanted: str | None = None
    is_connector: bool = True

    def strength_kN(self, loaded: Slot) -> Decimal | None:
        """The strength counted in one direction; other hardware has the same in each."""
        if not self.is_connector:
            figure = self.strength
        else:
            figure = {Slot.CLOSED: self.closed, Slot.CROSS: self.cross, Slot.OPEN: self.open}[
                loaded
            ]
        return None if figure is None else figure * self.keeps


@dataclass(frozen=True, slots=True)
class Point:
    """A point of the plan.

    Attributes:
        at: its place.
        on: the point it hangs directly on, passing its force to it.
        efficiency: part of the tension that comes through where a rope turns here.
        force: the pull of a load, in kN with its direction; `force_kN` the same as typed.
        line: of the file, for messages.
    """

    name: str
    kind: Kind
    at: Vector
    on: str | None = None
    held_by: tuple[Hold, ...] = ()
    turn: Turn | None = None
    efficiency: float | None = None
    force_kN: Decimal | None = None
    force: Vector | None = None
    meet: Meet = Meet.CONNECTOR
    line: int = 1


@dataclass(frozen=True, slots=True)
class Stop:
    """One place along a rope; `grab` means a rope grab clamps the rope there."""

    point: str
    grab: bool = False


@dataclass(frozen=True, slots=True)
class Rope:
    """A rope and the points it runs through, from end to end.

    Attributes:
        towards: the end point it moves to when raising; `None` if the plan does not say.
        tension_kN: tension of its first strand where the plan gives it.
    """

    name: str
    path: tuple[Stop, ...]
    held_by: tuple[Hold, ...] = ()
    towards: str | None = None
    tension_kN: float | None = None
    line: int = 1


@dataclass(frozen=True, slots=True)
class Leg:
    """One leg of an anchor, from the master point to an anchor point."""

    to: str
    held_by: tuple[Hold, ...] = ()
    line: int = 1


@dataclass(frozen=True, slots=True)
class Anchor:
    """Legs that meet in a master point. `angle` is the given angle with its convention in words."""

    name: str
    joins: str
    legs: tuple[Leg, ...]
    sharing: Sharing | None = None
    angle: str | None = None
    line: int = 1


@dataclass(frozen=True, slots=True)
class Fall:
    """A fall to estimate.

    Attributes:
        load: the load point whose pull is replaced by the peak force.
        drop_m: free fall; `rope_m`: rope out.
        modulus_kN: force per unit of strain; `source`: where it comes from, in words.
    """

    load: str
    drop_m: float
    rope_m: float
    modulus_kN: float
    source: str
    line: int = 1


@dataclass(frozen=True, slots=True)
class Plan:
    """A whole rig.

    Attributes:
        source: name of the file, for messages.
        dimension: 2 or 3.
        points: by name, in the order of the file.
        assumptions: what was assumed where the plan does not say, one sentence each.
    """

    source: str
    title: str
    about: tuple[str, ...]
    ratio: Decimal
    way: Way
    dimension: int
    points: dict[str, Point]
    ropes: tuple[Rope, ...]
    anchors: tuple[Anchor, ...]
    fall: Fall | None = None
    assumptions: tuple[str, ...] = field(default=())

    def root(self, name: str) -> str:
        """The point that in the end carries what hangs on a point by `on`."""
        while (above := self.points[name].on) is not None:
            name = above
        return name

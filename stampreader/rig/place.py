"""Where points lie: given in metres, by angle, along a line, or by the legs of an anchor."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Mapping
from enum import StrEnum

from stampreader.rig.fields import Fields, Source
from stampreader.rig.geometry import (
    Convention,
    dot,
    minus,
    plus,
    rising,
    sag_of_length_m,
    size,
    towards,
    turned,
    up,
)
from stampreader.rig.plan import Vector
from stampreader.units import shortened

MOST_PLACE_m = 10_000.0
_HOW_PLACE = "Give 'at', 'on' or 'place'."


class Side(StrEnum):
    """Which of the two ways an angle is laid off."""

    LEFT = "left"
    RIGHT = "right"
    ABOVE = "above"
    BELOW = "below"

    @property
    def way(self) -> Vector:
        """Its direction in the plane."""
        return {"left": (-1.0, 0.0), "right": (1.0, 0.0), "above": (0.0, 1.0)}.get(
            self.value, (0.0, -1.0)
        )


def read_convention(fields: Fields) -> Convention:
    """What the angle of a table is measured from; never assumed."""
    if not fields.has("convention"):
        fields.fail(
            "angle",
            "the angle does not say what it is measured from",
            "Add convention = 'included' (between the strands), 'from horizontal', "
            "'from vertical' or 'deflection'.",
        )
    convention = fields.choice("convention", Convention, None)
    assert convention is not None
    return convention


def read_dimension(source: Source, points: Mapping[str, Fields]) -> int:
    """Whether the plan lies in the plane or in space; a mixture is refused."""
    first: tuple[str, int] | None = None
    for name, fields in points.items():
        if not fields.has("at"):
            continue
        count = len(fields.items("at"))
        if count not in (2, 3):
            fields.fail("at", f"point '{name}' needs 2 or 3 coordinates", "Write: at = [1.0, 2.0]")
        if first is not None and first[1] != count:
            fields.fail(
                "at",
                f"point '{name}' has {count} coordinates, '{first[0]}' has {first[1]}",
                "Give every point two (seen from the side) or every point three (in space).",
            )
        first = first or (name, count)
    if first is None:
        source.fail(("point",), "no point has a place", "Give one of them: at = [0, 0]")
    return first[1]


class Places:
    """Finds the place of every point, following those that are given by others.

    Args:
        source: the plan.
        points: the table of each point.
        by_legs: for the end of a leg given by angle, how its place is found.
    """

    def __init__(
        self,
        source: Source,
        points: Mapping[str, Fields],
        dimension: int,
        by_legs: Mapping[str, Callable[[Places], Vector]],
    ) -> None:
        self.dimension = dimension
        self._source = source
        self._points = points
        self._by_legs = by_legs
        self._found: dict[str, Vector] = {}
        self._asked: list[str] = []

    def of(self, name: str) -> Vector:
        """The place of a point in metres.

        Raises:
            PlanError: no place, two places, or points that are placed by each other in a circle.
        """
        if name not in self._found:
            fields = self._points[name]
            if name in self._asked:
                circle = " → ".join([*self._asked[self._asked.index(name) :], name])
                fields.fail(
                    None, f"places go round in a circle: {circle}", "Give one of them 'at'."
                )
            self._asked.append(name)
            self._found[name] = self._bounded(fields, self._find(name, fields))
            self._asked.pop()
        return self._found[name]

    def named(self, fields: Fields, key: str) -> Vector:
        """The place of the point that a key names."""
        return self.of(known_point(fields, key, self._points))

    def _bounded(self, fields: Fields, place: Vector) -> Vector:
        if max(map(abs, place)) > MOST_PLACE_m:
            fields.fail(None, "this point lies over 10 km away", "Check its place and the unit.")
        return place

    def _find(self, name: str, fields: Fields) -> Vector:
        given = fields.one_of(("at", "place", "on"))
        if name in self._by_legs:
            if given is not None:
                fields.fail(
                    given,
                    f"'{name}' has a place and its leg an angle",
                    "Keep the place, or the angle of the anchor.",
                )
            return self._by_legs[name](self)
        if given == "at":
            return self._at(fields)
        if given == "place":
            return self._placed(fields.inner("place"))
        if given == "on":
            return self.named(fields, "on")
        fields.fail(None, f"point '{name}' has no place", _HOW_PLACE)

    def _at(self, fields: Fields) -> Vector:
        return tuple(
            fields.metres(part, (*fields.path, "at", place), -MOST_PLACE_m)
            for place, part in enumerate(fields.items("at"))
        )

    def _placed(self, fields: Fields) -> Vector:
        kind = fields.one_of(("from", "between"))
        if kind is None:
            fields.fail(None, "this place says neither 'from' nor 'between'", _HOW_PLACE)
        if kind == "between":
            place = self._between(fields)
        else:
            start = self.named(fields, "from")
            place = plus(start, read_direction(fields, self), fields.length("distance"))
        fields.finish()
        return place

    def _between(self, fields: Fields) -> Vector:
        ends = fields.texts("between")
        if len(ends) != 2:
            fields.fail(
                "between", "'between' needs two points", 'Write: between = ["left", "right"]'
            )
        a, b = (self._end(fields, place, name) for place, name in enumerate(ends))
        if size(minus(a, b)) == 0:
            fields.fail("between", "the two points lie at one place", "Name two different points.")
        share = fields.number("share", 0.0, 1.0, "0.5") if fields.has("share") else 0.5
        foot = plus(a, minus(b, a), share)
        return plus(foot, up(self.dimension), -self._sag_m(fields, a, b, share))

    def _end(self, fields: Fields, place: int, name: str) -> Vector:
        if name not in self._points:
            path = (*fields.path, "between", place)
            self._source.fail(
                path, f"there is no point '{shortened(name)}'", near_point(name, self._points)
            )
        return self.of(name)

    def _sag_m(self, fields: Fields, a: Vector, b: Vector, share: float) -> float:
        span = size(minus(a, b))
        kind = fields.one_of(("sag", "sag_percent", "line_length"))
        if kind == "sag":
            return fields.length("sag", "3.0")
        if kind == "sag_percent":
            return span * fields.number("sag_percent", 0.1, 200.0, "10") / 100
        if kind == "line_length":
            length = fields.length("line_length", "31.0")
            if length <= span or not 0 < share < 1:
                fields.fail(
                    "line_length",
                    f"a line of {length:g} m does not sag between points {span:.3g} m apart",
                    "Make it longer than their distance, and the share between 0 and 1.",
                )
            return sag_of_length_m(a, b, share, length)
        return 0.0


def read_direction(fields: Fields, places: Places) -> Vector:
    """The direction an angle gives, length 1; `from vertical` counts from straight down."""
    angle = fields.number("angle", -180.0, 180.0, "30")
    convention = read_convention(fields)
    fields.has("side")  # may stand there also where the angle needs none
    if convention in (Convention.INCLUDED, Convention.DEFLECTION):
        return _from_strand(fields, places, angle, convention)
    rise = angle if convention is Convention.HORIZONTAL else angle - 90.0
    if places.dimension == 3:
        return rising(rise, 3, fields.number("bearing", -360.0, 360.0, "0"))
    if abs(rise) == 90.0:
        return rising(rise, 2, 0.0)
    side = fields.choice("side", Side, None)
    if side not in (Side.LEFT, Side.RIGHT):
        fields.fail("side", "the angle needs a side", "Add: side = 'left' or side = 'right'")
    return rising(rise, 2, 0.0 if side is Side.RIGHT else 180.0)


def _from_strand(fields: Fields, places: Places, angle: float, convention: Convention) -> Vector:
    """The direction that stands at an angle to the strand from `from` to `with`."""
    if places.dimension == 3:
        fields.fail(
            "convention", "in space this angle has no side", "Give the point's place: 'at'."
        )
    strand = towards(places.named(fields, "from"), places.named(fields, "with"))
    if size(strand) == 0:
        fields.fail(
            "with", "'from' and 'with' lie at one place", "Name the point the strand goes to."
        )
    between = angle if convention is Convention.INCLUDED else 180.0 - angle
    ways = (turned(strand, between), turned(strand, -between))
    if between % 180 == 0:
        return ways[0]
    side = fields.choice("side", Side, None)
    lead = 0.0 if side is None else dot(minus(ways[0], ways[1]), side.way)
    if abs(lead) < 1e-9:
        fields.fail(
            "side",
            "the angle can be laid off on two sides",
            "Add the side it lies on: side = 'left', 'right', 'above' or 'below'.",
        )
    return ways[0] if lead > 0 else ways[1]


def leg_directions(fields: Fields, count: int, dimension: int) -> tuple[list[Vector], str]:
    """Directions of an anchor's legs from the master point up, and the angle in words.

    The legs are equal and the pull is taken to be straight down: two legs to the left and right,
    three or four in space evenly all round.
    """
    angle = fields.number("angle", 0.0, 180.0, "60")
    convention = read_convention(fields)
    if count < 2 or (count > 2 and dimension == 2):
        fields.fail(
            "angle",
            f"an angle does not place {count} leg{'s' * (count > 1)} seen from the side",
            "Give each leg's point its place with 'at'.",
        )
    rise = _rise_of_legs(fields, angle, convention, count)
    bearings = [180.0, 0.0] if count == 2 else [360.0 * leg / count for leg in range(count)]
    said = "included, between the legs" if convention is Convention.INCLUDED else convention
    words = f"{angle:g}° {said}"
    return [rising(rise, dimension, bearing) for bearing in bearings], words


def _rise_of_legs(fields: Fields, angle: float, convention: Convention, count: int) -> float:
    """How far above the horizontal the legs stand."""
    if convention is Convention.HORIZONTAL:
        return angle
    if convention is Convention.VERTICAL:
        return 90.0 - angle
    if convention is Convention.INCLUDED and count == 2:
        return 90.0 - angle / 2
    fields.fail(
        "convention",
        f"an angle '{convention}' does not place {count} legs",
        "Use 'from horizontal' or 'from vertical'; 'included' is between two legs.",
    )


def known_point(fields: Fields, key: str, points: Mapping[str, Fields]) -> str:
    """The name of a point under a key, which must be one of the plan's."""
    name = fields.text(key, '"top"')
    if name not in points:
        fields.fail(key, f"there is no point '{shortened(name)}'", near_point(name, points))
    return name


def near_point(name: str, points: Mapping[str, object]) -> str:
    """A hint for a point that is not there."""
    near = difflib.get_close_matches(name, points, 1)
    if near:
        return f"Did you mean '{near[0]}'?"
    some = ", ".join(list(points)[:8]) + (", …" if len(points) > 8 else "")
    return f"Add [point.{shortened(name)}], or name one of: {some}."

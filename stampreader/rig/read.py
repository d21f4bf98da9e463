"""A plan out of the text of its file; every mistake is named with its line."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from functools import partial

from stampreader.errors import UsageError
from stampreader.margin import parse_ratio
from stampreader.rig.check import check_plan
from stampreader.rig.fall import read_fall
from stampreader.rig.fields import Fields, Source, read_length_unit
from stampreader.rig.gear import read_held_by, read_strength
from stampreader.rig.geometry import plus, scaled, up
from stampreader.rig.place import (
    Places,
    known_point,
    leg_directions,
    near_point,
    read_dimension,
    read_direction,
)
from stampreader.rig.plan import (
    Anchor,
    Fall,
    Kind,
    Leg,
    Lookup,
    Meet,
    Plan,
    Point,
    Rope,
    Sharing,
    Stop,
    Turn,
    Vector,
    Way,
)
from stampreader.units import parse_person, shortened

MOST_POINTS = 40
"""More cannot be drawn legibly on one page."""
MOST_ROPES = 20
RATIO = Decimal(10)
"""Where neither the plan nor the team says one: common practice, no source."""


def read_plan(
    text: str,
    name: str,
    lookup: Lookup | None = None,
    ratio: Decimal | None = None,
    way: Way | None = None,
) -> Plan:
    """A plan from the text of its file.

    Args:
        text: TOML.
        name: of the file, for messages.
        lookup: finds connectors by their id.
        ratio: the team's, where the plan says none.
        way: instead of the plan's.

    Raises:
        PlanError: anything that cannot be understood, with the line and what to change.
    """
    return plan_of(Source(text, name), lookup, ratio, way)


def plan_of(source: Source, lookup: Lookup | None, ratio: Decimal | None, way: Way | None) -> Plan:
    """A plan from tables that were read, or read and varied."""
    top = Fields(source, (), source.tables)
    _read_units(top)
    tables = dict(top.tables("point"))
    if not tables:
        source.fail((), "the plan has no points", "Start from `stampreader rig --new two-leg`.")
    if len(tables) > MOST_POINTS:
        source.fail(
            list(tables.values())[MOST_POINTS].path,
            f"the plan has {len(tables)} points, over {MOST_POINTS}",
            "Split it into plans of one anchor or one hauling system each.",
        )
    dimension = read_dimension(source, tables)
    anchors, by_legs = _read_anchors(top, tables, dimension)
    places = Places(source, tables, dimension, by_legs)
    points = {name: _read_point(name, fields, places, lookup) for name, fields in tables.items()}
    assumptions: list[str] = []
    plan = Plan(
        source=source.name,
        title=top.optional_text("title", "Rig plan"),
        about=top.texts("about"),
        ratio=_read_ratio(top, ratio, assumptions),
        way=_read_way(top, way, points, assumptions),
        dimension=dimension,
        points=points,
        ropes=_read_ropes(top, points),
        anchors=anchors,
        fall=_read_fall(top, points),
        assumptions=tuple(assumptions),
    )
    top.finish()
    check_plan(plan)
    return plan


def _read_units(top: Fields) -> None:
    read_length_unit(top)
    if top.has("person"):
        try:
            top.source.person_kN = parse_person(top.text("person", '"1.0 kN"'))
        except UsageError as error:
            top.fail("person", str(error), error.remedy)


def _read_ratio(top: Fields, ratio: Decimal | None, assumptions: list[str]) -> Decimal:
    if not top.has("ratio"):
        if ratio is None:
            assumptions.append(f"ratio {RATIO}:1, as the plan names none")
        return ratio or RATIO
    value = top.table["ratio"]
    try:
        return parse_ratio("true" if isinstance(value, bool) else str(value))
    except UsageError as error:
        top.fail("ratio", str(error), error.remedy)


def _read_way(
    top: Fields, way: Way | None, points: Mapping[str, Point], assumptions: list[str]
) -> Way:
    said = top.choice("way", Way, None)
    rubs = any((point.efficiency or 1) < 1 for point in points.values())
    if way is None and said is None and rubs:
        assumptions.append("ropes held still, as the plan does not say which way they move")
    return way or said or Way.HOLDING


def _read_point(name: str, fields: Fields, places: Places, lookup: Lookup | None) -> Point:
    kind = fields.choice("kind", Kind, Kind.JOINT) or Kind.JOINT
    if fields.has("on") and kind.fixed:
        fields.fail(
            "kind",
            f"'{name}' is {_a(kind)} and hangs on another point",
            "Leave out 'kind', or 'on'.",
        )
    at = places.of(name)
    force_kN, force = _read_force(fields, kind, places)
    turn, efficiency = _read_turn(fields)
    point = Point(
        name=name,
        kind=kind,
        at=at,
        on=fields.text("on") if fields.has("on") else None,
        held_by=read_held_by(fields, lookup),
        turn=turn,
        efficiency=efficiency,
        force_kN=force_kN,
        force=force,
        meet=fields.choice("meet", Meet, Meet.CONNECTOR) or Meet.CONNECTOR,
        line=fields.line,
    )
    fields.finish()
    return point


def _read_force(fields: Fields, kind: Kind, places: Places) -> tuple[Decimal | None, Vector | None]:
    """The pull of a load and its direction: straight down unless said otherwise."""
    if kind is not Kind.LOAD:
        if fields.has("force") or fields.has("pull"):
            fields.fail("force", "only a load has a force", "Add: kind = 'load'")
        return None, None
    force_kN = fields.force("force")
    down = scaled(up(places.dimension), -1.0)
    if fields.has("pull"):
        inner = fields.inner("pull")
        down = read_direction(inner, places)
        inner.finish()
    return force_kN, scaled(down, float(force_kN))


def _read_turn(fields: Fields) -> tuple[Turn | None, float | None]:
    turn = fields.choice("turn", Turn, None)
    if not fields.has("efficiency"):
        return turn, None
    value = fields.table["efficiency"]
    if value == 0 and not isinstance(value, bool):
        fields.fail(
            "efficiency",
            "an efficiency of zero lets no tension through",
            "Give 1 for no friction, or end the rope at this point.",
        )
    return turn, fields.number("efficiency", 0.05, 1.0, "0.9")


def _read_anchors(
    top: Fields, points: Mapping[str, Fields], dimension: int
) -> tuple[tuple[Anchor, ...], dict[str, Callable[[Places], Vector]]]:
    """The anchors, and how to place the ends of legs that are given by angle."""
    anchors: list[Anchor] = []
    by_legs: dict[str, Callable[[Places], Vector]] = {}
    for name, fields in top.tables("anchor"):
        joins = known_point(fields, "joins", points)
        legs = tuple(
            _read_leg(fields, place, item, points)
            for place, item in enumerate(fields.items("legs"))
        )
        if not 1 <= len(legs) <= 4:
            fields.fail("legs", f"an anchor of {len(legs)} legs", "Give it one to four legs.")
        words = None
        if fields.has("angle"):
            ways, words = leg_directions(fields, len(legs), dimension)
            length = fields.length("leg_length")
            for leg, way in zip(legs, ways, strict=True):
                by_legs[leg.to] = partial(_leg_end, joins, way, length)
        for key in ("convention", "leg_length"):
            if fields.has(key) and words is None:
                fields.fail(key, f"'{key}' stands without an angle", "Add: angle = 60")
        sharing = fields.choice("sharing", Sharing, None)
        anchors.append(Anchor(name, joins, legs, sharing, words, fields.line))
        fields.finish()
    return tuple(anchors), by_legs


def _leg_end(joins: str, way: Vector, length_m: float, places: Places) -> Vector:
    return plus(places.of(joins), way, length_m)


def _read_leg(fields: Fields, place: int, item: object, points: Mapping[str, Fields]) -> Leg:
    """A leg, given as the name of its anchor point or as a table with more about it."""
    path = (*fields.path, "legs", place)
    if isinstance(item, str):
        if item not in points:
            fields.source.fail(
                path, f"there is no point '{shortened(item)}'", near_point(item, points)
            )
        return Leg(item, (), fields.source.line(path))
    inner = Fields(fields.source, path, item)
    to = known_point(inner, "to", points)
    held_by = read_strength(inner, inner.optional_text("name", "leg"))
    inner.finish()
    return Leg(to, held_by, inner.line)


def _read_ropes(top: Fields, points: Mapping[str, Point]) -> tuple[Rope, ...]:
    ropes = tuple(_read_rope(name, fields, points) for name, fields in top.tables("rope"))
    if len(ropes) > MOST_ROPES:
        top.fail("rope", f"the plan has {len(ropes)} ropes, over {MOST_ROPES}", "Split the plan.")
    return ropes


def _read_rope(name: str, fields: Fields, points: Mapping[str, Point]) -> Rope:
    path = tuple(
        _read_stop(fields, place, item, points) for place, item in enumerate(fields.items("path"))
    )
    if len(path) < 2:
        fields.fail(
            "path",
            f"rope '{name}' does not run from one point to another",
            'Write: path = ["a", "b"]',
        )
    rope = Rope(
        name,
        path,
        read_strength(fields, "rope"),
        _read_towards(name, fields, path, points),
        float(fields.force("tension")) if fields.has("tension") else None,
        fields.line,
    )
    fields.finish()
    return rope


def _read_stop(fields: Fields, place: int, item: object, points: Mapping[str, Point]) -> Stop:
    path = (*fields.path, "path", place)
    grab = not isinstance(item, str)
    name = item
    if grab:
        inner = Fields(fields.source, path, item)
        name = inner.text("grab", '"g"')
        inner.finish()
    if not isinstance(name, str) or name not in points:
        said = shortened(str(name))
        fields.source.fail(
            path,
            f"rope '{fields.path[-1]}' runs through '{said}', which is no point",
            near_point(str(name), points),
        )
    return Stop(name, grab)


def _read_towards(
    name: str, fields: Fields, path: tuple[Stop, ...], points: Mapping[str, Point]
) -> str | None:
    """The end a rope moves to when raising: as said, else its only end in a hand."""
    ends = [path[0].point, path[-1].point]
    if fields.has("towards"):
        said = fields.text("towards")
        if said not in ends or ends[0] == ends[1]:
            fields.fail("towards", f"'{said}' is not one end of '{name}'", f"Name one of: {ends}.")
        return said
    hands = [end for end in ends if points[end].kind is Kind.HAND]
    return hands[0] if len(hands) == 1 else None


def _read_fall(top: Fields, points: Mapping[str, Point]) -> Fall | None:
    return read_fall(top.inner("fall"), points) if top.has("fall") else None


def _a(kind: Kind) -> str:
    return f"an {kind}" if kind.value[0] in "ae" else f"a {kind}"

"""What is measured on the drawing: angles with their convention, sag, and the scale."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations, pairwise

from stampreader.paper import Rect
from stampreader.report.rig_picture.labels import Crowd, nearest
from stampreader.report.rig_picture.routes import plus
from stampreader.report.rig_picture.scene import Scene
from stampreader.report.rig_picture.strokes import (
    INK,
    PAPER,
    QUIET,
    Line,
    Spot,
    Stroke,
    Text,
    box,
    width_mm,
)
from stampreader.rig.geometry import angle_between_deg, minus
from stampreader.rig.plan import Kind, Plan

SMALL = 6.4
RADIUS = 9.0
TIGHT_DEG = 120.0


def arcs(scene: Scene, crowd: Crowd) -> Iterator[Stroke]:
    """The included angle between legs, and between the strands at a turn."""
    for middle, a, b, words in (*_leg_angles(scene), *_turn_angles(scene)):
        yield from _arc(scene, crowd, middle, a, b, words)


def _leg_angles(scene: Scene) -> Iterator[tuple[Spot, Spot, Spot, str]]:
    """Angles between neighbouring legs of anchors seen from the front."""
    plan = scene.plan
    if plan.dimension == 3:
        return
    for anchor in plan.anchors:
        at = plan.points[anchor.joins].at
        places = sorted(
            (plan.points[leg.to].at for leg in anchor.legs),
            key=lambda to: math.atan2(to[0] - at[0], to[1] - at[1]),
        )
        for a, b in pairwise(places):
            angle = angle_between_deg(minus(a, at), minus(b, at))
            yield (
                scene.spots[anchor.joins],
                (a[0] - at[0], at[1] - a[1]),
                (b[0] - at[0], at[1] - b[1]),
                f"{angle:.0f}° included",
            )


def _turn_angles(scene: Scene) -> Iterator[tuple[Spot, Spot, Spot, str]]:
    """Angles between the strands of ropes that turn, where they open."""
    plan = scene.plan
    for route in scene.routes:
        path = route.rope.path
        for stop, wheel in route.wheels.items():
            before, name, after = (path[stop + k].point for k in (-1, 0, 1))
            a = minus(plan.points[before].at, plan.points[name].at)
            b = minus(plan.points[after].at, plan.points[name].at)
            angle = angle_between_deg(a, b)
            if plan.points[name].kind is Kind.EDGE or not 20 < angle < 172 or len(a) == 3:
                continue
            yield wheel.at, (a[0], -a[1]), (b[0], -b[1]), f"{angle:.0f}° between strands"


def _arc(
    scene: Scene, crowd: Crowd, middle: Spot, a: Spot, b: Spot, words: str
) -> Iterator[Stroke]:
    first, last = (math.atan2(way[1], way[0]) for way in (a, b))
    sweep = (last - first + math.pi) % (2 * math.pi) - math.pi
    spots = tuple(
        plus(middle, (math.cos(first + sweep * i / 24), math.sin(first + sweep * i / 24)), RADIUS)
        for i in range(25)
    )
    crowd.spots += spots
    yield Line(spots, 0.3, QUIET)
    half = first + sweep / 2
    way = (math.cos(half), math.sin(half))
    wide = width_mm(words, SMALL)
    place = crowd.place(plus(middle, way, RADIUS - 2.0), wide + 1.2, 3.4)
    near = nearest(place, spots[12])
    if math.dist(near, spots[12]) > 4.0:
        yield Line((spots[12], near), 0.2, QUIET)
    yield box(place, 0.0, fill=PAPER)
    yield Text((place.x + 0.6, place.y + 2.5), words, SMALL, colour=QUIET)


def sags(scene: Scene, crowd: Crowd) -> Iterator[Stroke]:
    """How far a tight line is drawn below the straight line between its neighbours."""
    plan = scene.plan
    for name, a, b in tight_lines(plan):
        foot = _below(scene.spots[a], scene.spots[b], scene.spots[name])
        depth = (scene.spots[name][1] - foot[1]) / scene.scale
        span = math.dist(plan.points[a].at, plan.points[b].at)
        if depth * scene.scale < 4:
            continue
        yield Line((scene.spots[a], scene.spots[b]), 0.25, QUIET, (1.6, 1.4))
        yield Line((foot, scene.spots[name]), 0.25, QUIET)
        for end, way in ((foot, 1.0), (scene.spots[name], -1.0)):
            head = (plus(end, (-0.9, 1.8 * way)), end, plus(end, (0.9, 1.8 * way)))
            yield Line(head, 0.25, QUIET)
        words = f"sag {depth:.2f} m, {100 * depth / span:.0f} % of {span:.1f} m"
        crowd.add_line(foot, scene.spots[name])
        place = Rect(foot[0] + 1.5, foot[1] - 4.2, width_mm(words, SMALL), 3.4)
        crowd.boxes.append(place)
        yield Text((place.x, place.y + 2.6), words, SMALL, colour=QUIET)


def tight_lines(plan: Plan) -> Iterator[tuple[str, str, str]]:
    """Points that a line drawn tight carries between two others."""
    masters = {anchor.joins for anchor in plan.anchors}
    if plan.dimension == 3:
        return
    for name, point in plan.points.items():
        if point.kind.fixed or point.on is not None or name in masters:
            continue
        around = {
            other.point
            for rope in plan.ropes
            for place, stop in enumerate(rope.path)
            if stop.point == name
            for other in rope.path[max(0, place - 1) : place + 2]
            if other.point != name and plan.points[other.point].kind is Kind.ANCHOR
        }
        for a, b in combinations(sorted(around), 2):
            ways = (minus(plan.points[p].at, point.at) for p in (a, b))
            if angle_between_deg(*ways) > TIGHT_DEG:
                yield name, a, b


def _below(a: Spot, b: Spot, at: Spot) -> Spot:
    """The spot of the straight line from `a` to `b` that is straight above or below another."""
    if abs(b[0] - a[0]) < 1e-9:
        return at
    share = (at[0] - a[0]) / (b[0] - a[0])
    return at[0], a[1] + share * (b[1] - a[1])


def scale_bar(scene: Scene, crowd: Crowd) -> Iterator[Stroke]:
    """A bar of a round length in metres."""
    metres = max(
        (m * 10**p for p in range(-3, 4) for m in (1, 2, 5) if m * 10**p * scene.scale <= 42),
        default=1e-3,
    )
    wide = metres * scene.scale
    x, y = scene.frame.x + 2, scene.frame.y + scene.frame.height - 3
    for start, fill in ((0.0, INK), (0.5, PAPER)):
        yield box(Rect(x + start * wide, y - 1.2, wide / 2, 1.2), 0.25, fill=fill)
    words = f"{metres:g} m" + (", seen from the front and above" if _in_space(scene) else "")
    yield Text((x + wide + 1.5, y), words, SMALL)
    crowd.boxes.append(Rect(x, y - 2, wide + 2 + width_mm(words, SMALL), 3))


def _in_space(scene: Scene) -> bool:
    return scene.plan.dimension == 3

"""The drawing itself: ropes, symbols, forces and signs at every point."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

from stampreader.report.rig_picture import symbols
from stampreader.report.rig_picture.along import forces_along
from stampreader.report.rig_picture.labels import Crowd
from stampreader.report.rig_picture.marks import arcs, sags, scale_bar
from stampreader.report.rig_picture.routes import plus
from stampreader.report.rig_picture.scene import Scene
from stampreader.report.rig_picture.strokes import PAPER, Line, Spot, Stroke
from stampreader.report.rig_picture.tags import tags
from stampreader.rig.plan import Kind


def draw(scene: Scene) -> Iterator[Stroke]:
    """Everything inside the frame, in the order it is laid on the page."""
    crowd = Crowd(scene.frame)
    yield from sags(scene, crowd)
    yield from _legs(scene, crowd)
    yield from _behind(scene, crowd)
    yield from _ropes(scene, crowd)
    yield from _before(scene)
    yield from forces_along(scene, crowd)
    yield from arcs(scene, crowd)
    yield from scale_bar(scene, crowd)
    yield from tags(scene, crowd)


def _legs(scene: Scene, crowd: Crowd) -> Iterator[Stroke]:
    for anchor in scene.plan.anchors:
        for leg in anchor.legs:
            a, b = scene.spots[anchor.joins], scene.symbols[leg.to][0]
            crowd.add_line(a, b)
            yield from symbols.leg(a, b)


def _behind(scene: Scene, crowd: Crowd) -> Iterator[Stroke]:
    """Edges and straps: what the ropes run over."""
    plan = scene.plan
    for name, wheel in scene.wheels.items():
        root = plan.root(name)
        crowd.add_disc(wheel.at, wheel.radius)
        if plan.points[root].kind is Kind.EDGE:
            yield from symbols.edge(wheel, wheel.at)
        else:
            yield symbols.strap(wheel, scene.symbols[root][0])
    for at, end in _ties(scene):
        yield Line((at, end), 1.0, symbols.STRAP)
    for name, (at, away) in scene.symbols.items():
        kind = plan.points[name].kind
        crowd.add_disc(at, 3.0)
        reach = {Kind.ANCHOR: 3.0, Kind.LOAD: 4.5, Kind.HAND: 1.5}.get(kind, 0.0)
        if reach:
            for radius in (1.5, 3.0, 4.5):
                crowd.add_disc(plus(at, away, reach), radius)
        if kind is Kind.EDGE and name not in scene.wheels:
            yield from symbols.edge(None, at)


def _ropes(scene: Scene, crowd: Crowd) -> Iterator[Stroke]:
    """Each rope with a white border, so that one crossing another is seen to cross."""
    for number, route in enumerate(scene.routes):
        colour, dash = symbols.ROPE_LOOKS[min(number, len(symbols.ROPE_LOOKS) - 1)]
        spots = tuple(route.spots)
        for a, b in pairwise(spots):
            crowd.add_line(a, b)
        yield Line(spots, 1.7, PAPER)
        yield Line(spots, 0.85, colour, dash)


def _before(scene: Scene) -> Iterator[Stroke]:
    """Wheels, grabs, anchors, loads, joints and hands, over the ropes."""
    for name, wheel in scene.wheels.items():
        if scene.plan.points[scene.plan.root(name)].kind is not Kind.EDGE:
            yield from symbols.wheel(wheel, _strap_over(scene, name))
    for route in scene.routes:
        for at, way in route.grabs.values():
            yield from symbols.grab(at, way)
    for name, (at, away) in scene.symbols.items():
        kind = scene.plan.points[name].kind
        if kind in (Kind.ANCHOR, Kind.LOAD, Kind.HAND):
            draws = {Kind.ANCHOR: symbols.anchor, Kind.LOAD: symbols.load, Kind.HAND: symbols.hand}
            yield from draws[kind](at, away)
        elif kind is Kind.JOINT and name not in scene.grabbed and name not in scene.wheels:
            yield from symbols.joint(at)


def _strap_over(scene: Scene, name: str) -> Spot | None:
    """Where the strap of a wheel ends that is drawn over it: not across the strands of a grab."""
    root = scene.plan.root(name)
    return scene.symbols[root][0] if root not in scene.grabbed else None


def _ties(scene: Scene) -> Iterator[tuple[Spot, Spot]]:
    """Where a rope ends beside the symbol of its point, the piece between the two."""
    for route in scene.routes:
        for end, stop in zip(route.ends, (route.rope.path[0], route.rope.path[-1]), strict=True):
            at = scene.symbols[scene.plan.root(stop.point)][0]
            if math.dist(at, end) > 1.0:
                yield at, end

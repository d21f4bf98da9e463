"""The force along every strand and leg, with the margin of the rope or sling itself."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from stampreader.paper import Rect
from stampreader.report.rig_picture import symbols
from stampreader.report.rig_picture.labels import Crowd
from stampreader.report.rig_picture.routes import dot, left, plus, unit
from stampreader.report.rig_picture.scene import Scene
from stampreader.report.rig_picture.strokes import PAPER, PT, Line, Spot, Stroke, Text, width_mm
from stampreader.rig import Row
from stampreader.rig.forces import counted_kN
from stampreader.units import round_up

SIZE = 6.8
SIGN = 1.25
GAP = 1.0
SHARES = (0.5, 0.4, 0.6, 0.3, 0.7, 0.22, 0.78)


@dataclass(frozen=True, slots=True)
class Stretch:
    """A straight piece of rope or leg on paper.

    Attributes:
        place: as in the table: `rope main`, `leg to left`.
        row: the margin of the rope or leg itself, on the longest piece that carries most.
    """

    place: str
    a: Spot
    b: Spot
    force_kN: float
    row: Row | None = None

    @property
    def length(self) -> float:
        """In mm on paper."""
        return math.dist(self.a, self.b)


def stretches(scene: Scene) -> list[Stretch]:
    """Every strand and leg, the margin of each rope and leg on one of its pieces."""
    found = [*_strands(scene), *_legs(scene)]
    rows: dict[str, Row] = {}
    for row in scene.worked.rows:
        rows.setdefault(row.place, row)
    for place in {stretch.place for stretch in found} & rows.keys():
        pieces = [stretch for stretch in found if stretch.place == place]
        most = max(piece.force_kN for piece in pieces) * (1 - 1e-9)
        best = max((p for p in pieces if p.force_kN >= most), key=lambda piece: piece.length)
        found[found.index(best)] = replace(best, row=rows[place])
    return found


def _strands(scene: Scene) -> Iterator[Stretch]:
    tension = scene.worked.forces.balance.tension_kN.max(axis=0)
    index = 0
    for route in scene.routes:
        for a, b in route.straight:
            yield Stretch(f"rope {route.rope.name}", a, b, float(tension[index]))
            index += 1


def _legs(scene: Scene) -> Iterator[Stretch]:
    for anchor in scene.plan.anchors:
        for leg in anchor.legs:
            force = scene.worked.forces.legs[anchor.name, leg.to]
            a, b = scene.spots[anchor.joins], scene.symbols[leg.to][0]
            yield Stretch(f"leg to {leg.to}", a, b, force)


def forces_along(scene: Scene, crowd: Crowd) -> Iterator[Stroke]:
    """The force written along each strand and leg that has room for it."""
    for stretch in stretches(scene):
        if stretch.row is not None and stretch.row is scene.worked.weakest:
            continue  # it gets a tag of its own
        yield from _along(crowd, stretch)


def _along(crowd: Crowd, stretch: Stretch) -> Iterator[Stroke]:
    force, margin = force_text(stretch.force_kN), ""
    wide = width_mm(force, SIZE, True) + 1.6
    if stretch.row is not None:
        margin = margin_text(stretch.row)
        longer = wide + GAP * 2 + 2 * SIGN + width_mm(margin, SIZE, True)
        margin, wide = (margin, longer) if stretch.length > longer + 4 else ("", wide)
    if stretch.length < wide + 4:
        return
    angle = _reading_angle(stretch)
    way = (math.cos(math.radians(angle)), math.sin(math.radians(angle)))
    down = (-way[1], way[0])
    middle = _quiet_place(crowd, stretch, wide)
    high = SIZE * PT * 0.8
    corners = tuple(
        plus(plus(middle, way, x * wide / 2), down, y * (high / 2 + 0.5))
        for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    )
    crowd.boxes.append(_bounds(corners))
    yield Line(corners, 0.0, closed=True, fill=PAPER)
    start = plus(plus(middle, way, 0.8 - wide / 2), down, high / 2)
    yield Text(start, force, SIZE, bold=True, turn_deg=angle)
    if margin and stretch.row is not None:
        along = width_mm(force, SIZE, True) + GAP + SIGN
        yield from symbols.sign(
            stretch.row.outcome, plus(plus(start, way, along), down, -high / 2), SIGN
        )
        yield Text(plus(start, way, along + SIGN + GAP), margin, SIZE, bold=True, turn_deg=angle)


def _reading_angle(stretch: Stretch) -> float:
    """The direction to write in: to the right, or upwards."""
    angle = math.degrees(math.atan2(stretch.b[1] - stretch.a[1], stretch.b[0] - stretch.a[0]))
    if angle > 89.5:
        return angle - 180
    return angle + 180 if angle <= -90.5 else angle


def _quiet_place(crowd: Crowd, stretch: Stretch, wide: float) -> Spot:
    """The place along a stretch where the fewest other texts are near."""
    way = (stretch.b[0] - stretch.a[0], stretch.b[1] - stretch.a[1])
    free = [s for s in SHARES if min(s, 1 - s) * stretch.length > wide / 2 + 1] or [0.5]

    side = left(unit(stretch.a, stretch.b))

    def near(spot: Spot) -> int:
        middles = ((box.x + box.width / 2, box.y + box.height / 2) for box in crowd.boxes)
        others = (
            other
            for other in crowd.spots
            if math.dist(spot, other) < wide / 2
            and 0.9 < abs(dot(plus(other, spot, -1.0), side)) < 3
        )
        return 4 * sum(1 for m in middles if math.dist(spot, m) < wide) + sum(1 for _ in others)

    return min((plus(stretch.a, way, share) for share in free), key=near)


def _bounds(corners: tuple[Spot, ...]) -> Rect:
    xs, ys = zip(*corners, strict=True)
    return Rect(min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys))


def force_text(force_kN: float) -> str:
    """A force as printed: rounded up to 0.01 kN."""
    return f"{round_up(counted_kN(force_kN), 2)} kN"


def margin_text(row: Row) -> str:
    """A margin as printed: cut off at 0.01."""
    if row.judged.strength is None:
        return "unknown"
    return "no force" if row.margin is None else f"{row.margin}"

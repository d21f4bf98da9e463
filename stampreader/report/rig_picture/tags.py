"""The tags beside the points: name, force, lowest margin with its sign; the weakest in bold."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from stampreader.paper import Rect
from stampreader.report.rig_picture import symbols
from stampreader.report.rig_picture.along import force_text, margin_text, stretches
from stampreader.report.rig_picture.labels import Crowd, nearest
from stampreader.report.rig_picture.routes import plus
from stampreader.report.rig_picture.scene import Scene
from stampreader.report.rig_picture.strokes import (
    HAIR,
    INK,
    PAPER,
    QUIET,
    Line,
    Spot,
    Stroke,
    Text,
    box,
    shortened_to,
    width_mm,
)
from stampreader.rig import Row
from stampreader.rig.plan import Kind

NAME, FIGURE = 7.0, 8.5
SIGN = 1.75
MOST_NAME = 34.0
BANNER = 3.9


@dataclass(frozen=True, slots=True)
class Tag:
    """What a tag says and the spot it speaks of."""

    at: Spot
    name: str
    force: str
    row: Row | None
    weakest: bool

    @property
    def size(self) -> tuple[float, float]:
        """Width and height in mm."""
        widths = [width_mm(self.name, NAME, True), width_mm(self.force, FIGURE, True)]
        high = 8.6
        if self.row is not None:
            widths.append(2 * SIGN + 1.6 + width_mm(margin_text(self.row), FIGURE, True))
            high += 4.4
        if self.weakest:
            widths.append(width_mm("weakest", NAME, True))
            high += BANNER
        return max(widths) + 3.0, high


def tags(scene: Scene, crowd: Crowd) -> Iterator[Stroke]:
    """A tag at every point, and one at the weakest rope or leg."""
    found = _tags(scene)
    places = crowd.place_all([(tag.at, tag.size) for tag in found])
    placed = list(zip(found, places, strict=True))
    for tag, place in placed:
        yield Line((tag.at, nearest(place, tag.at)), 0.25, QUIET)
    for tag, place in placed:
        yield from _tag(tag, place)


def _tags(scene: Scene) -> list[Tag]:
    """The weakest first, so that it gets the best place; then from the top down."""
    weakest = scene.worked.weakest
    rows: dict[str, Row] = {}
    for row in scene.worked.rows:
        if row is weakest:
            rows[row.place] = row
        rows.setdefault(row.place, row)
    found = [
        Tag(
            _spot_of(scene, name),
            shortened_to(name, NAME, MOST_NAME, bold=True),
            force_text(scene.worked.forces.points[name]),
            rows.get(name),
            weakest is not None and rows.get(name) is weakest,
        )
        for name in scene.plan.points
    ]
    found += [
        Tag(
            plus(stretch.a, (stretch.b[0] - stretch.a[0], stretch.b[1] - stretch.a[1]), 0.5),
            shortened_to(stretch.place, NAME, MOST_NAME, bold=True),
            force_text(stretch.force_kN),
            stretch.row,
            True,
        )
        for stretch in stretches(scene)
        if stretch.row is not None and stretch.row is weakest
    ]
    return sorted(found, key=lambda tag: (not tag.weakest, tag.at[1]))


def _tag(tag: Tag, place: Rect) -> Iterator[Stroke]:
    yield box(place, 0.7 if tag.weakest else 0.25, INK if tag.weakest else HAIR, PAPER)
    x, y = place.x + 1.5, place.y
    if tag.weakest:
        yield box(Rect(place.x, place.y, place.width, BANNER), 0.7, fill=INK)
        yield Text((place.x + place.width / 2, y + 2.85), "weakest", NAME, True, "middle", PAPER)
        y += BANNER
    yield Text((x, y + 3.1), tag.name, NAME, bold=True, colour=QUIET)
    yield Text((x, y + 6.9), tag.force, FIGURE, bold=True)
    if tag.row is not None:
        yield from symbols.sign(tag.row.outcome, (x + SIGN, y + 9.9), SIGN)
        yield Text((x + 2 * SIGN + 1.4, y + 11.1), margin_text(tag.row), FIGURE, bold=True)


def _spot_of(scene: Scene, name: str) -> Spot:
    """The spot a tag points to: the wheel of a point, or its symbol."""
    if name in scene.wheels:
        return scene.wheels[name].at
    root = scene.plan.root(name)
    at, away = scene.symbols[root]
    if scene.plan.points[root].kind is Kind.LOAD and root == name:
        return plus(at, away, 4.5)
    return at

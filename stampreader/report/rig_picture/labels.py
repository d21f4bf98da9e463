"""Finding room for labels beside what they name, clear of ropes, symbols and each other."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from stampreader.paper import Rect
from stampreader.report.rig_picture.strokes import Spot

WAYS = tuple(
    (math.cos(math.radians(angle)), math.sin(math.radians(angle))) for angle in range(0, 360, 15)
)
GAPS = (4.5, 7.0, 10.0, 14.0, 19.0, 26.0, 34.0, 44.0)
ROUNDS, FINALISTS = 3, 30
HIDDEN = 5.0


@dataclass(slots=True)
class Crowd:
    """What is drawn already, as spots to keep clear of, and the labels placed so far.

    Attributes:
        frame: no label leaves it.
        spots: drawn places, about 1 mm apart.
        boxes: labels.
    """

    frame: Rect
    spots: list[Spot] = field(default_factory=list)
    boxes: list[Rect] = field(default_factory=list)

    def add_line(self, a: Spot, b: Spot) -> None:
        """Keep clear of a line."""
        steps = max(1, int(math.dist(a, b)))
        self.spots += [between(a, b, step / steps) for step in range(steps + 1)]

    def add_disc(self, at: Spot, radius: float) -> None:
        """Keep clear of a symbol."""
        self.spots += [
            (at[0] + r * x, at[1] + r * y) for r in (radius / 2, radius) for x, y in WAYS[::2]
        ]

    def place(self, at: Spot, width: float, height: float) -> Rect:
        """The best place for a label of this size beside a spot; it is taken at once."""
        best = self._best(at, width, height, [])
        self.boxes.append(best)
        return best

    def place_all(self, wanted: Sequence[tuple[Spot, tuple[float, float]]]) -> list[Rect]:
        """Places for many labels; each is looked for again once all the others have one.

        Their leaders should not cross either.
        """
        kept = list(self.boxes)
        places: list[Rect] = [self.place(at, *size) for at, size in wanted]
        for _ in range(ROUNDS):
            for index, (at, size) in enumerate(wanted):
                others = [p for i, p in enumerate(places) if i != index]
                self.boxes = kept + others
                leaders = [
                    (spot, nearest(place, spot))
                    for i, ((spot, _), place) in enumerate(zip(wanted, places, strict=True))
                    if i != index
                ]
                places[index] = self._best(at, *size, leaders)
        self.boxes = kept + places
        return places

    def _best(
        self, at: Spot, width: float, height: float, leaders: Sequence[tuple[Spot, Spot]]
    ) -> Rect:
        boxes = list(dict.fromkeys(self._tries(at, width, height)))
        hidden = self._hidden(boxes)
        rough = sorted(
            (math.dist(at, nearest(box, at)) + HIDDEN * hid + 8.0 * self._over(box), index)
            for index, (box, hid) in enumerate(zip(boxes, hidden, strict=True))
        )
        costs = [(cost + self._crossed(at, boxes[i], leaders), i) for cost, i in rough[:FINALISTS]]
        return boxes[min(costs)[1]]

    def _tries(self, at: Spot, width: float, height: float) -> Iterator[Rect]:
        for gap in GAPS:
            for x, y in WAYS:
                middle_x = at[0] + x * (gap + width / 2)
                middle_y = at[1] + y * (gap + height / 2)
                yield self._inside(Rect(middle_x - width / 2, middle_y - height / 2, width, height))

    def _inside(self, box: Rect) -> Rect:
        """The box moved into the frame."""
        x = min(max(box.x, self.frame.x), self.frame.x + self.frame.width - box.width)
        y = min(max(box.y, self.frame.y), self.frame.y + self.frame.height - box.height)
        return Rect(x, y, box.width, box.height)

    def _hidden(self, boxes: Sequence[Rect]) -> list[int]:
        """How many drawn spots each box would hide."""
        if not self.spots:
            return [0] * len(boxes)
        x, y = np.array(self.spots).T
        left = np.array([(b.x - 1, b.y - 1, b.x + b.width + 1, b.y + b.height + 1) for b in boxes])
        x0, y0, x1, y1 = (column[:, None] for column in left.T)
        return [int(n) for n in ((x >= x0) & (x <= x1) & (y >= y0) & (y <= y1)).sum(axis=1)]

    def _over(self, box: Rect) -> float:
        wide = box.shrunk(-1.0)
        return sum(overlap(wide, other) for other in self.boxes)

    def _crossed(self, at: Spot, box: Rect, leaders: Sequence[tuple[Spot, Spot]]) -> float:
        """How much the leader from a spot to its label crosses what is there."""
        near = nearest(box, at)
        length = math.dist(at, near)
        way = [between(at, near, step / length) for step in range(4, int(length))]
        cost = 15.0 * sum(crosses((at, near), leader) for leader in leaders)
        cost += sum(12.0 for spot in way if any(inside(other, spot) for other in self.boxes))
        if way and self.spots:
            apart = np.array(way)[:, None] - np.array(self.spots)
            cost += 3.0 * float(((apart**2).sum(axis=2).min(axis=1) < 0.64).sum())
        return cost


def between(a: Spot, b: Spot, share: float) -> Spot:
    """The spot part of the way from `a` to `b`."""
    return a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share


def crosses(first: tuple[Spot, Spot], second: tuple[Spot, Spot]) -> bool:
    """Whether two straight lines cross."""

    def side(a: Spot, b: Spot, c: Spot) -> float:
        return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])

    (a, b), (c, d) = first, second
    return side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0


def inside(box: Rect, spot: Spot) -> bool:
    """Whether a spot lies in a box."""
    return box.x <= spot[0] <= box.x + box.width and box.y <= spot[1] <= box.y + box.height


def overlap(a: Rect, b: Rect) -> float:
    """The area two boxes share, mm²."""
    wide = min(a.x + a.width, b.x + b.width) - max(a.x, b.x)
    high = min(a.y + a.height, b.y + b.height) - max(a.y, b.y)
    return max(0.0, wide) * max(0.0, high)


def nearest(box: Rect, spot: Spot) -> Spot:
    """The place of a box that is nearest to a spot."""
    return (
        min(max(spot[0], box.x), box.x + box.width),
        min(max(spot[1], box.y), box.y + box.height),
    )

"""Statics: the tension of every rope and the pull of every anchor that hold a plan in balance.

At every point that is not fixed the forces must cancel. The unknowns are one tension for each
stretch of rope between grabs, and the pull of each anchor as a whole in the directions its legs
span; where a rope turns, the tension behind is the tension before times or over the efficiency.
That is a set of linear equations; it is solved, and the balance at every point is checked again.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise, product

import numpy as np

from stampreader.rig.fields import plan_error
from stampreader.rig.geometry import towards
from stampreader.rig.plan import Anchor, Plan, Rope, Way
from stampreader.rig.refuse import (
    Flags,
    Floats,
    Strand,
    refuse_push,
    refuse_unbalanced,
    refuse_undetermined,
)

MOST_RUBBING = 8
"""Rubbing points for which every combination of friction is tried when holding."""
TOLERANCE = 1e-7
"""Part of the largest force that may be left over at a point: the solver's own noise is less."""


@dataclass(frozen=True, slots=True)
class Balance:
    """A plan in balance, in every state of friction that was looked at.

    Attributes:
        strands: the stretches of all ropes.
        tension_kN: `(states, strands)`.
        pull_kN: for each anchor the force its legs put on the master point,
            `(states, anchors, dimension)`.
        left_kN: the force left over at each point that is not fixed, at most over all states.
    """

    strands: tuple[Strand, ...]
    tension_kN: Floats
    pull_kN: Floats
    left_kN: dict[str, float]


def balance(plan: Plan, way: Way | None = None, frictionless: bool = False) -> Balance:
    """Solve a plan.

    Args:
        plan: checked by `check_plan`.
        way: which way the ropes move, instead of the plan's. Holding still, friction may act
            either way at every rubbing point: each combination is one state.
        frictionless: leave friction out.

    Raises:
        PlanError: the plan is over-constrained, out of balance, or a rope would have to push.
    """
    strands = _strands(plan)
    factor = _factors(plan, strands, way or plan.way, frictionless)
    return _System(plan, strands, factor).solve()


def _strands(plan: Plan) -> tuple[Strand, ...]:
    found: list[Strand] = []
    stretch = -1
    for number, rope in enumerate(plan.ropes):
        stretch += 1
        for place, (first, second) in enumerate(pairwise(rope.path)):
            stretch += first.grab
            a, b = plan.points[first.point], plan.points[second.point]
            way = np.array(towards(a.at, b.at))
            found.append(Strand(number, place, a.name, b.name, way, stretch))
    return tuple(found)


def _factors(plan: Plan, strands: tuple[Strand, ...], way: Way, frictionless: bool) -> Floats:
    """Tension of each strand over the first of its stretch, `(states, strands)`."""
    passes = {
        index: passed
        for index, strand in enumerate(strands)
        if strand.place and not plan.ropes[strand.rope].path[strand.place].grab
        if (passed := plan.points[strand.a].efficiency or 1.0) < 1.0
    }
    signs = _signs(plan, strands, list(passes), way)
    factor = np.ones((1 if frictionless else len(signs), len(strands)))
    for index, strand in enumerate(strands):
        if strand.place and not plan.ropes[strand.rope].path[strand.place].grab:
            factor[:, index] = factor[:, index - 1]
            if index in passes and not frictionless:
                power = signs[:, list(passes).index(index)]
                factor[:, index] *= passes[index] ** -power
    return factor


def _signs(plan: Plan, strands: tuple[Strand, ...], rubbing: list[int], way: Way) -> Floats:
    """For each state and rubbing strand: +1 if its tension is the higher one, else -1."""
    if way is not Way.HOLDING:
        return np.array([[_sign(plan, strands[index], way) for index in rubbing]]).reshape(
            1, len(rubbing)
        )
    if len(rubbing) > MOST_RUBBING:
        rope = plan.ropes[strands[rubbing[MOST_RUBBING]].rope]
        raise plan_error(
            plan.source,
            rope.line,
            f"ropes rub at {len(rubbing)} places, over {MOST_RUBBING}, and friction may act either "
            "way at each when holding",
            "Give way = 'raising' or way = 'lowering'.",
        )
    count = len(rubbing)
    return np.array(list(product((1.0, -1.0), repeat=count))).reshape(2**count, count)


def _sign(plan: Plan, strand: Strand, way: Way) -> float:
    """Whether the strand behind a turn pulls more: raising, the side towards the hand does."""
    rope = plan.ropes[strand.rope]
    if rope.towards is None:
        raise plan_error(
            plan.source,
            rope.line,
            f"rope '{rope.name}' rubs at '{strand.a}', and the plan does not say which way it "
            "moves",
            f"Add towards = '{rope.path[-1].point}' (the end it moves to when raising), or use "
            "way = 'holding'.",
        )
    to_end = 1.0 if rope.towards == rope.path[-1].point else -1.0
    return to_end if way is Way.RAISING else -to_end


class _System:
    """The equations of one plan: `matrix @ unknowns = given`, one set a state."""

    def __init__(self, plan: Plan, strands: tuple[Strand, ...], factor: Floats) -> None:
        self.plan = plan
        self.strands = strands
        self.factor = factor
        free = [n for n, p in plan.points.items() if p.on is None and not p.kind.fixed]
        self.row = {name: index for index, name in enumerate(free)}
        self.bases = [_span(plan, anchor) for anchor in plan.anchors]
        self.column = self._columns()
        self.wide = len(self.column) + sum(len(basis) for basis in self.bases)
        shape = (len(factor), len(free), plan.dimension)
        self.matrix = np.zeros((*shape, self.wide))
        self.given = np.zeros(shape)
        self._fill_strands()
        self._fill_anchors()
        self._fill_loads()

    def _columns(self) -> dict[int, int]:
        """The column of each stretch whose tension is not given by the plan."""
        told = {s.stretch for s in self.strands if not s.place and self._told(s) is not None}
        free = dict.fromkeys(s.stretch for s in self.strands if s.stretch not in told)
        return {stretch: column for column, stretch in enumerate(free)}

    def _told(self, strand: Strand) -> float | None:
        return self.plan.ropes[strand.rope].tension_kN

    def _fill_strands(self) -> None:
        for index, strand in enumerate(self.strands):
            for end, sign in ((strand.a, 1.0), (strand.b, -1.0)):
                row = self.row.get(self.plan.root(end))
                if row is None:
                    continue
                pull = sign * self.factor[:, index, None] * strand.way
                if strand.stretch in self.column:
                    self.matrix[:, row, :, self.column[strand.stretch]] += pull
                else:
                    self.given[:, row] -= pull * (self._told(strand) or 0.0)

    def _fill_anchors(self) -> None:
        column = len(self.column)
        for anchor, basis in zip(self.plan.anchors, self.bases, strict=True):
            self.matrix[:, self.row[anchor.joins], :, column : column + len(basis)] = basis.T
            column += len(basis)

    def _fill_loads(self) -> None:
        for name, point in self.plan.points.items():
            row = self.row.get(self.plan.root(name))
            if point.force is not None and row is not None:
                self.given[:, row] -= np.array(point.force)

    def solve(self) -> Balance:
        """Solve every state and check the balance again."""
        states = len(self.factor)
        matrix = self.matrix.reshape(states, -1, self.wide)
        given = self.given.reshape(states, -1)
        self._refuse_undetermined(matrix, given)
        q, r = np.linalg.qr(matrix)
        right = np.swapaxes(q, 1, 2) @ given[..., None]
        found = np.linalg.solve(r, right)[..., 0]
        tension = self._tensions(found)
        scale = max(
            1e-9, float(np.abs(tension).max(initial=0)), float(np.abs(given).max(initial=0))
        )
        left = np.einsum("smn,sn->sm", matrix, found) - given
        most = self._refuse_unbalanced(left, scale)
        refuse_push(self.plan, self.strands, tension, TOLERANCE * scale)
        return Balance(self.strands, np.maximum(tension, 0), self._pulls(found), most)

    def _refuse_unbalanced(self, left: Floats, scale: float) -> dict[str, float]:
        """The most left over at each point in any state; refused if it is more than noise."""
        parts = left.reshape(len(left), len(self.row), self.plan.dimension)
        sizes = np.linalg.norm(parts, axis=2)
        if sizes.size and sizes.max() > TOLERANCE * scale:
            state, row = np.unravel_index(int(np.argmax(sizes)), sizes.shape)
            refuse_unbalanced(self.plan, self.strands, list(self.row)[int(row)], parts[state, row])
        return dict(zip(self.row, map(float, sizes.max(axis=0)), strict=True))

    def _refuse_undetermined(self, matrix: Floats, given: Floats) -> None:
        """Refuse a plan out of balance, or that more parts hold than statics can tell apart."""
        for state in range(len(matrix)):
            _, sizes, rows = np.linalg.svd(matrix[state])
            rank = int((sizes > 1e-9).sum())
            if rank == self.wide:
                continue
            found = np.linalg.lstsq(matrix[state], given[state])[0]
            left = matrix[state] @ found - given[state]
            self._refuse_unbalanced(left[None], float(np.abs(given[state]).max(initial=1e-9)))
            refuse_undetermined(self.plan, self._named(np.abs(rows[rank]) > 1e-6))

    def _named(self, columns: Flags) -> list[Rope | Anchor]:
        """The ropes and anchors whose unknowns stand in some columns."""
        parts: dict[str, Rope | Anchor] = {}
        for strand in self.strands:
            column = self.column.get(strand.stretch)
            if column is not None and columns[column]:
                rope = self.plan.ropes[strand.rope]
                parts[f"rope {rope.name}"] = rope
        start = len(self.column)
        for anchor, basis in zip(self.plan.anchors, self.bases, strict=True):
            if columns[start : start + len(basis)].any():
                parts[f"anchor {anchor.name}"] = anchor
            start += len(basis)
        return list(parts.values())

    def _tensions(self, found: Floats) -> Floats:
        tension = self.factor.copy()
        for index, strand in enumerate(self.strands):
            column = self.column.get(strand.stretch)
            base = (self._told(strand) or 0.0) if column is None else found[:, column]
            tension[:, index] *= base
        return tension

    def _pulls(self, found: Floats) -> Floats:
        pull = np.zeros((len(found), len(self.bases), self.plan.dimension))
        column = len(self.column)
        for index, basis in enumerate(self.bases):
            pull[:, index] = found[:, column : column + len(basis)] @ basis
            column += len(basis)
        return pull


def _span(plan: Plan, anchor: Anchor) -> Floats:
    """Directions, at right angles, that an anchor's legs can pull in together."""
    legs = leg_ways(plan, anchor)
    _, sizes, rows = np.linalg.svd(legs)
    rank = int((sizes > 1e-6).sum())
    return np.eye(plan.dimension) if rank == plan.dimension else rows[:rank]


def leg_ways(plan: Plan, anchor: Anchor) -> Floats:
    """Directions of an anchor's legs away from the master point, `(legs, dimension)`."""
    at = plan.points[anchor.joins].at
    return np.array([towards(at, plan.points[leg.to].at) for leg in anchor.legs])


def loads_kN(plan: Plan) -> float:
    """The sum of all loads."""
    return sum(float(p.force_kN) for p in plan.points.values() if p.force_kN is not None)

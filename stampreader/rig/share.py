"""How the legs of an anchor share its pull, and what the others take when one leg goes."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from stampreader.rig.fields import plan_error
from stampreader.rig.plan import Anchor, Plan, Sharing
from stampreader.rig.refuse import Floats
from stampreader.rig.statics import TOLERANCE, leg_ways

EQUAL_DEG = 1.0
"""Legs may differ by this much and still count as equal for the rule 'as three'."""


RULE_WORDS = {
    Sharing.EXACT: "statics decides the shares",
    Sharing.CAUTIOUS: "each leg at the most it can take while none pushes; not all at once",
    Sharing.ONE_LEG: "each leg counted with the whole pull, or more where its angle asks it",
    Sharing.AS_THREE: "the whole pull over three equal legs (OSHA, Guidance on Safe Sling Use)",
}
"""Each rule in words."""


def rule_of(plan: Plan, anchor: Anchor) -> Sharing:
    """The rule an anchor's legs are shared by: exact where statics decides, else cautious."""
    ways = leg_ways(plan, anchor)
    decided = np.linalg.matrix_rank(ways, tol=1e-6) == len(ways)
    if anchor.sharing is Sharing.EXACT and not decided:
        raise plan_error(
            plan.source,
            anchor.line,
            f"statics does not decide how the {len(ways)} legs of '{anchor.name}' share",
            "Use sharing = 'cautious', 'one leg' or 'as three'.",
        )
    return anchor.sharing or (Sharing.EXACT if decided else Sharing.CAUTIOUS)


def leg_forces(plan: Plan, anchor: Anchor, pull: Floats) -> Floats:
    """The force each leg is counted with.

    Args:
        pull: the force all legs together put on the master point, `(states, dimension)`, kN.

    Returns:
        `(states, legs)` in kN. Exact: the one way the forces balance. Cautious: for each leg the
        most it can take in any way of sharing in which no leg pushes; those need not occur at
        once. One leg: that, or the whole pull if it is more. As three: the whole pull over three
        legs at the angle they stand at (OSHA, Guidance on Safe Sling Use, gives four legs the
        figure of three).

    Raises:
        PlanError: a leg would have to push; the rule does not suit the legs.
    """
    ways = leg_ways(plan, anchor)
    rule = rule_of(plan, anchor)
    if rule is Sharing.AS_THREE:
        return _as_three(plan, anchor, ways, pull)
    forces = most_of_each(ways, pull)
    if np.isnan(forces).any():
        raise plan_error(plan.source, anchor.line, *_push(anchor, ways, pull))
    if rule is Sharing.ONE_LEG:
        forces = np.maximum(forces, np.linalg.norm(pull, axis=1)[:, None])
    return forces


def most_of_each(ways: Floats, pull: Floats) -> Floats:
    """The most each leg can take while all forces balance and none pushes; NaN where none can.

    The ways to share form a polytope whose corners load no more legs than statics can tell apart;
    a force is largest in a corner, so the corners are all that is looked at.

    Args:
        ways: directions of the legs, `(legs, dimension)`.
        pull: `(states, dimension)`.
    """
    rank = int(np.linalg.matrix_rank(ways, tol=1e-6))
    slack = TOLERANCE * np.maximum(1e-9, np.linalg.norm(pull, axis=1))
    most = np.full((len(pull), len(ways)), np.nan)
    for legs in combinations(range(len(ways)), rank):
        chosen = ways[list(legs)]
        if np.linalg.matrix_rank(chosen, tol=1e-6) < rank:
            continue
        forces = pull @ np.linalg.pinv(chosen)
        left = np.linalg.norm(forces @ chosen - pull, axis=1)
        holds = (forces.min(axis=1) >= -slack) & (left <= slack)
        corner = np.zeros((len(pull), len(ways)))
        corner[:, list(legs)] = np.maximum(forces, 0)
        most = np.where(holds[:, None], np.fmax(most, corner), most)
    return most


def _push(anchor: Anchor, ways: Floats, pull: Floats) -> tuple[str, str]:
    """Message and remedy where the pull lies outside the legs."""
    forces = pull @ np.linalg.pinv(ways)
    name = anchor.legs[int(np.argmin(forces.min(axis=0)))].to
    return (
        f"the leg of '{anchor.name}' to '{name}' would have to push: the pull lies outside the "
        "legs",
        "Move the anchor points so that the pull runs between them, or take that leg out.",
    )


def _as_three(plan: Plan, anchor: Anchor, ways: Floats, pull: Floats) -> Floats:
    total = np.linalg.norm(pull, axis=1)
    cosines = (pull @ ways.T) / np.maximum(total, 1e-12)[:, None]
    angles = np.degrees(np.arccos(np.clip(cosines, -1, 1)))
    if (total > 0).any() and (np.ptp(angles, axis=1).max() > EQUAL_DEG or angles.max() > 89):
        raise plan_error(
            plan.source,
            anchor.line,
            "sharing 'as three' is a rule for legs at equal angles to the pull",
            "Use sharing = 'cautious'.",
        )
    shares: Floats = total[:, None] / (3 * np.maximum(cosines, 1e-9))
    return shares


def forces_without(ways: Floats, lengths_m: Floats, pull: Floats, gone: int) -> Floats:
    """The most each remaining leg takes once one is gone, at rest; nothing on the one gone.

    The pull is taken to stay as it was. Three legs or more keep the master point where it is if
    they can; two swing until the pull lies in their plane; one hangs in line with the pull. The
    jerk of the loss itself is not counted.

    Args:
        ways: directions of the legs from the master point, `(legs, dimension)`.
        lengths_m: their lengths.
        pull: `(states, dimension)`.
        gone: which leg.
    """
    left = [leg for leg in range(len(ways)) if leg != gone]
    forces = np.zeros((len(pull), len(ways)))
    if len(left) > 2:
        forces[:, left] = most_of_each(ways[left], pull)
        if not np.isnan(forces).any():
            return forces
    forces[:, left] = 0.0
    for pair in combinations(left, 2):
        forces[:, pair] = np.maximum(
            forces[:, pair], _swung(ways[list(pair)], lengths_m[list(pair)], pull)
        )
    if len(left) != 2:
        total = np.linalg.norm(pull, axis=1)
        forces[:, left] = np.maximum(forces[:, left], total[:, None])
    return forces


def _swung(ways: Floats, lengths_m: Floats, pull: Floats) -> Floats:
    """Forces of two legs whose master point has swung into the plane of the pull.

    With the two anchor points D apart, the master point keeps its distances L1 and L2 from them:
    it lies s along their line and h below it. Balance along and across that line gives both
    forces; where one would push, it goes slack and the other takes the whole pull.
    """
    ends = ways * lengths_m[:, None]
    line = ends[1] - ends[0]
    apart = float(np.linalg.norm(line))
    axis = line / apart
    s = float((-ends[0]) @ axis)
    h = float(np.sqrt(max(lengths_m[0] ** 2 - s**2, 1e-12)))
    along = -(pull @ axis)
    total = np.linalg.norm(pull, axis=1)
    across = np.sqrt(np.maximum(total**2 - along**2, 0))
    first = lengths_m[0] * ((apart - s) * across + h * along) / (h * apart)
    second = lengths_m[1] * (s * across - h * along) / (h * apart)
    forces = np.stack([first, second], axis=1)
    pushes = forces.min(axis=1) < 0
    forces[pushes] = np.where(forces[pushes] > 0, total[pushes, None], 0.0)
    return forces

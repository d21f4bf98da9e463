"""The peak force of a fall, estimated; never part of a static margin.

F = W (1 + √(1 + 2 f k / W)): W the weight, f the fall factor (free fall over rope out), k the
rope's modulus, the force that would stretch it by its own length. It takes the rope for a spring
and every other part for rigid; a symposium paper of 2002 found it good for short falls and up to
30 % low for hard ones. Handbooks and papers: US Marine Corps assault climbers' handbook (2002).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from stampreader.rig.fields import Fields
from stampreader.rig.geometry import scaled, size
from stampreader.rig.plan import Fall, Kind, Plan, Point
from stampreader.units import KGF_kN

TEST_MASS_kN = float(80 * KGF_kN)
TEST_FACTOR = 1.77
"""A single rope's drop test: 80 kg, fall factor about 1.77 (EN 892)."""


def peak_force_kN(weight_kN: float, fall_factor: float, modulus_kN: float) -> float:
    """The estimated peak force in the rope.

    Worked examples: a weight of 0.8007 kN (180 lbf) at fall factor 1 on k = 27.26 kN gives
    7.46 kN (1,676 lbf); at fall factor 0 it is twice the weight.
    """
    return weight_kN * (1 + math.sqrt(1 + 2 * fall_factor * modulus_kN / weight_kN))


def modulus_kN(impact_kN: float) -> float:
    """The modulus of a rope from the impact force of its drop test, by the same equation.

    Worked example: 9 kN in the test of 80 kg at factor 1.77 is a modulus of 24.08 kN.
    """
    excess = impact_kN / TEST_MASS_kN - 1
    return TEST_MASS_kN * (excess**2 - 1) / (2 * TEST_FACTOR)


@dataclass(frozen=True, slots=True)
class Estimate:
    """The estimated peak of a fall, kept apart from every static margin.

    Attributes:
        fall: what was put in.
        factor: free fall over rope out.
        peak_kN: force in the rope at the load.
        plan: the same rig with the load's pull replaced by the peak, to be judged as an estimate.
    """

    fall: Fall
    factor: float
    peak_kN: float
    plan: Plan


def estimate_fall(plan: Plan) -> Estimate | None:
    """The estimate for a plan's fall; `None` where it has none."""
    fall = plan.fall
    if fall is None:
        return None
    point = plan.points[fall.load]
    assert point.force is not None
    factor = fall.drop_m / fall.rope_m
    peak = peak_force_kN(size(point.force), factor, fall.modulus_kN)
    replaced = replace(
        point,
        force=scaled(point.force, peak / size(point.force)),
        force_kN=Decimal(str(round(peak, 6))),
    )
    peaked = replace(plan, points={**plan.points, fall.load: replaced}, fall=None)
    return Estimate(fall, factor, peak, peaked)


def read_fall(fields: Fields, points: Mapping[str, Point]) -> Fall:
    """A fall out of the plan's `[fall]` table."""
    load = _load(fields, points)
    drop_m = fields.length("drop", "1.0", low_m=0.0)
    rope_m = fields.length("rope", "3.0")
    if drop_m > 2 * rope_m:
        fields.fail(
            "drop",
            f"a fall of {drop_m:g} m on {rope_m:g} m of rope is over fall factor 2",
            "Check the free fall and the rope out.",
        )
    modulus, source = _modulus(fields)
    fields.finish()
    return Fall(load, drop_m, rope_m, modulus, source, fields.line)


def _load(fields: Fields, points: Mapping[str, Point]) -> str:
    loads = [name for name, point in points.items() if point.kind is Kind.LOAD]
    if not fields.has("load") and len(loads) == 1:
        return loads[0]
    name = fields.text("load", '"load"')
    if name not in loads:
        fields.fail("load", f"'{name}' is not a load of the plan", f"Name one of: {loads}.")
    return name


def _modulus(fields: Fields) -> tuple[float, str]:
    kind = fields.one_of(("modulus", "impact_force"))
    if kind is None:
        fields.fail(
            None,
            "the fall does not say how the rope stretches",
            'Add impact_force = "9 kN" from the rope\'s label, or modulus = "24 kN".',
        )
    given = float(fields.force(kind))
    if kind == "modulus":
        return given, "modulus as given in the plan"
    if given <= 2.2 * TEST_MASS_kN:
        fields.fail(kind, "this impact force is too low for a drop test", "Take it from the label.")
    return modulus_kN(given), "modulus from the impact force of the 80 kg drop test"

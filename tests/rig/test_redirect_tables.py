"""Redirects against printed tables."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from stampreader.rig import Worked

Work = Callable[..., Worked]
Text = Callable[..., str]

DEFLECTION_TABLE = "load table by deflection angle, per 100 kg"
DIRECT_TABLE = "climbing page, strands parallel 200 %, 60° 173 %, 120° 100 %"
TOP_ROPE = "climbing physics page: lowered over one point, 2; holding both ends oneself, 1"
MECHANICS = "mechanics problem: string over a pulley at a right angle, √2 M g"


@pytest.mark.parametrize(
    ("apart", "exact"),
    [
        (0, 2.000),
        (20, 1.970),
        (30, 1.932),
        (45, 1.848),
        (60, 1.732),
        (80, 1.532),
        (90, 1.414),
        (100, 1.286),
        (120, 1.000),
        (135, 0.765),
        (140, 0.684),
        (150, 0.518),
        (160, 0.347),
        (170, 0.174),
        (180, 0.000),
    ],
)
def test_resultant_by_the_angle_between_the_strands(
    apart: float, exact: float, worked: Work, redirect_text: Text
) -> None:
    """R = 2 T cos(half the angle between the strands), and the same by deflection (statics)."""
    between = worked(redirect_text(apart)).forces.points["top"]
    turned = worked(redirect_text(180 - apart, "deflection")).forces.points["top"]
    assert exact == pytest.approx(between, abs=5e-4)
    assert between == pytest.approx(turned, abs=1e-12)


@pytest.mark.parametrize(
    ("apart", "printed", "within", "source"),
    [
        (0, 2.00, 0.005, DEFLECTION_TABLE),
        (120, 1.00, 0.005, DEFLECTION_TABLE),
        (135, 0.76, 0.01, DEFLECTION_TABLE),
        (160, 0.34, 0.01, DEFLECTION_TABLE + "; cut off, not rounded"),
        (60, 1.73, 0.005, DIRECT_TABLE),
        (90, 1.41, 0.005, MECHANICS),
        (90, 3877 / 2750, 0.005, "rescue page: 2,750 lb at 90° gives 3,877 lb, with 1.41 for √2"),
        (0, 2.00, 0.005, TOP_ROPE),
    ],
)
def test_redirect_as_printed(
    apart: float, printed: float, within: float, source: str, worked: Work, redirect_text: Text
) -> None:
    """A redirect carries what the tables print."""
    found = worked(redirect_text(apart)).forces.points["top"]
    assert printed == pytest.approx(found, abs=within), source


def test_trainers_ninety_degrees_is_not_matched(worked: Work, redirect_text: Text) -> None:
    """Two trainers round 90° up to 1.5; it is 1.414."""
    assert 1.41421356 == pytest.approx(worked(redirect_text(90)).forces.points["top"])


def test_unequal_tensions(worked: Work, redirect_text: Text) -> None:
    """R² = T1² + T2² + 2 T1 T2 cos(angle) where friction leaves T2 on the other side (cosine rule)."""
    found = worked(redirect_text(70, efficiency=0.6, way="lowering")).forces.points["top"]
    expected = math.sqrt(1 + 0.6**2 + 2 * 0.6 * math.cos(math.radians(70)))
    assert expected == pytest.approx(found)


def test_two_thirds_reach_the_belayer(worked: Work, redirect_text: Text) -> None:
    """12 kN on the falling side over a connector that lets two thirds through is 8 kN on the other
    side and 20 kN at the top, strands parallel (fall-force page; the sum is arithmetic)."""
    text = redirect_text(0, efficiency=2 / 3, way="lowering", force="12 kN")
    forces = worked(text).forces
    assert 8.0 == pytest.approx(forces.points["hand"])
    assert 20.0 == pytest.approx(forces.points["top"])


def test_brake_side_of_sixty_percent(worked: Work, redirect_text: Text) -> None:
    """A climbing page gives 200 % for a 60 % brake side; parallel strands carry 160 %."""
    text = redirect_text(0, efficiency=0.6, way="lowering")
    assert 1.6 == pytest.approx(worked(text).forces.points["top"])


def test_friction_helps_lowering_and_hinders_raising(worked: Work, redirect_text: Text) -> None:
    """Raising, the hand pulls load over efficiency; lowering, load times efficiency (tension rule)."""
    assert 1 / 0.7 == pytest.approx(
        worked(redirect_text(90, efficiency=0.7, way="raising")).forces.points["hand"]
    )
    assert 0.7 == pytest.approx(
        worked(redirect_text(90, efficiency=0.7, way="lowering")).forces.points["hand"]
    )


def test_holding_counts_the_higher_of_both(worked: Work, redirect_text: Text) -> None:
    """Holding still, friction may act either way: each point is counted with its highest force."""
    both = [
        worked(redirect_text(40, efficiency=0.8, way=way)).forces.points["top"]
        for way in ("raising", "lowering")
    ]
    held = worked(redirect_text(40, efficiency=0.8, way="holding")).forces.points["top"]
    assert max(both) == pytest.approx(held)

"""The fall equation against the table of a mountain-warfare handbook and the rope standard."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from stampreader.errors import PlanError
from stampreader.rig import Worked
from stampreader.rig.fall import modulus_kN, peak_force_kN
from stampreader.units import LBF_kN

Work = Callable[..., Worked]

# US Marine Corps assault climbers' handbook (mountain warfare centre, summer 2002): peak force in
# lbf for a climber of 180 lb by fall factor. The handbook does not print the modulus; 6,128 lbf
# reproduces every row within 1 lbf but that of 0.6, which is 2.5 off and taken for a misprint.
HANDBOOK = {
    0: 360, 0.1: 683, 0.2: 868, 0.4: 1137, 0.6: 1347, 0.8: 1521, 1.0: 1676, 1.2: 1817, 1.4: 1947,
    1.6: 2067, 1.8: 2181, 2.0: 2288,
}  # fmt: skip
POUND = float(LBF_kN)


@pytest.mark.parametrize(("factor", "printed"), HANDBOOK.items())
def test_handbook_table(factor: float, printed: float) -> None:
    """One rope modulus gives every printed force of the handbook's table."""
    found = peak_force_kN(180 * POUND, factor, 6128 * POUND) / POUND
    assert printed == pytest.approx(found, abs=2.6 if factor == 0.6 else 1.0)


@pytest.mark.parametrize(("impact", "modulus", "short_fall"), [(12, 45.07, 5.46), (9, 24.08, 4.24)])
def test_modulus_from_the_drop_test(impact: float, modulus: float, short_fall: float) -> None:
    """EN 892: 80 kg at factor 1.77; at 12 and 9 kN the equation gives these moduli and forces."""
    weight = 80 * 9.80665 / 1000
    assert modulus == pytest.approx(modulus_kN(impact), abs=0.005)
    assert short_fall == pytest.approx(peak_force_kN(weight, 0.3, modulus), abs=0.005)
    assert 1.57 == pytest.approx(peak_force_kN(weight, 0, modulus), abs=0.005)


def test_examples_of_the_docstrings() -> None:
    """The worked examples stand."""
    assert 7.46 == pytest.approx(peak_force_kN(0.8007, 1, 27.26), abs=0.005)
    assert 24.08 == pytest.approx(modulus_kN(9), abs=0.005)


FALL = """
[point.top]
kind = "anchor"
at = [0, 0]
held_by = [{ figures = "24/8/7" }]
[point.load]
kind = "load"
at = [0, -3]
force = "80 kg"
[rope.main]
path = ["top", "load"]
[fall]
drop = 3
rope = 3
impact_force = "9 kN"
"""


def test_an_estimate_stays_apart_from_the_static_margin(worked: Work) -> None:
    """The margins are those of the load at rest; the peak is given beside them as an estimate."""
    found = worked(FALL)
    still = worked(FALL[: FALL.index("[fall]")])
    assert [row.margin for row in still.rows] == [row.margin for row in found.rows]
    assert found.estimate is not None
    assert 1.0 == found.estimate.factor
    weight = 80 * 9.80665 / 1000
    assert peak_force_kN(weight, 1.0, modulus_kN(9)) == pytest.approx(found.estimate.peak_kN)


@pytest.mark.parametrize(
    ("old", "new", "line", "what"),
    [
        ("drop = 3", "drop = 7", 13, "over fall factor 2"),
        ('impact_force = "9 kN"', "", 12, "does not say how the rope stretches"),
        ("9 kN", "1 kN", 15, "too low"),
        ("rope = 3", "rope = 0", 14, "length"),
        ("drop = 3", "drop = -1", 13, "length"),
        ("drop = 3", "load = 'top'", 13, "not a load"),
    ],
)
def test_bad_falls(old: str, new: str, line: int, what: str, worked: Work) -> None:
    """A fall that cannot be estimated is refused with its line."""
    with pytest.raises(PlanError, match=f"line {line}: .*{what}"):
        worked(FALL.replace(old, new))

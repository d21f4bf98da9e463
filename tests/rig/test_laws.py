"""Laws every rig obeys: balance, scale, mirror, and the safe side of every rounding."""

from __future__ import annotations

import math
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stampreader.rig import Outcome, read_plan, what_if, work_out
from stampreader.rig.share import forces_without
from stampreader.units import LBF_kN

Text = Callable[..., str]

angles = st.floats(1, 170).map(lambda a: round(a, 3))
loads = st.floats(0.05, 50).map(lambda f: round(f, 3))
shares = st.floats(0.3, 1.0).map(lambda p: round(p, 3))


def v(angle: float, load: float, lean: float = 0.0, figures: str = "22/7/7") -> str:
    """Two legs at an angle, the whole turned by `lean` degrees."""

    def place(turn: float) -> str:
        return f"[{math.sin(math.radians(turn)):.12f}, {math.cos(math.radians(turn)):.12f}]"

    return f"""
[point.a]
kind = "anchor"
at = {place(lean - angle / 2)}
held_by = [{{ figures = "{figures}" }}]
[point.b]
kind = "anchor"
at = {place(lean + angle / 2)}
held_by = [{{ figures = "{figures}" }}]
[point.load]
kind = "load"
at = [0, 0]
force = "{load} kN"
[anchor.main]
joins = "load"
legs = ["a", "b"]
"""


def haul(p: float, load: float, way: str, scale: float = 1.0) -> str:
    """A 3:1 hung vertically."""
    return f"""
way = "{way}"
[point.top]
kind = "anchor"
at = [0, 0]
[point.wheel]
on = "top"
efficiency = {p}
[point.load]
kind = "load"
at = [0, {-4 * scale}]
force = "{load} kN"
[point.grab]
place = {{ between = ["top", "load"] }}
[point.moving]
on = "grab"
efficiency = {p}
[point.hand]
kind = "hand"
at = [0, {2 * scale}]
[rope.main]
path = ["load", {{ grab = "grab" }}, "wheel", "moving", "hand"]
"""


def _solve(text: str):
    return work_out(read_plan(text, "plan.toml"))


@given(angles, loads)
def test_legs_balance_the_load(angle: float, load: float) -> None:
    """Two equal legs lift together exactly the load, and twice the share is never under it."""
    legs = _solve(v(angle, load)).forces.legs
    lift = sum(force * math.cos(math.radians(angle / 2)) for force in legs.values())
    assert load == pytest.approx(lift)
    assert sum(legs.values()) >= load * (1 - 1e-9)


@given(angles, loads, st.floats(0.1, 8))
def test_forces_scale_with_the_load(angle: float, load: float, times: float) -> None:
    """Twice the load is twice every force."""
    one = _solve(v(angle, load)).forces.legs["main", "a"]
    more = _solve(v(angle, round(load * times, 9))).forces.legs["main", "a"]
    assert one * times == pytest.approx(more, rel=1e-6)


@given(st.floats(20, 160), st.floats(-0.45, 0.45), loads)
def test_mirrored_rigs_have_mirrored_forces(angle: float, part: float, load: float) -> None:
    """Leaning the anchor to the other side swaps the legs."""
    lean = part * angle
    one = _solve(v(angle, load, lean)).forces.legs
    other = _solve(v(angle, load, -lean)).forces.legs
    assert one["main", "a"] == pytest.approx(other["main", "b"], rel=1e-6)


@given(shares, loads, st.sampled_from(["raising", "lowering", "holding"]), st.floats(0.1, 20))
def test_anchor_and_hand_share_the_load(p: float, load: float, way: str, scale: float) -> None:
    """What the anchor and the hand hold together is the load, at any size of the rig."""
    forces = _solve(haul(p, load, way, round(scale, 3))).forces
    tension = forces.balance.tension_kN
    hand = tension[:, -1]
    anchor = tension[:, 1] + tension[:, 2]
    assert np.allclose(anchor + hand, load)


@given(shares, loads)
def test_friction_costs(p: float, load: float) -> None:
    """Raising takes at least a third of the load at the hand, lowering at most a third; holding is
    never counted less than either."""
    raising = _solve(haul(p, load, "raising")).forces.points
    lowering = _solve(haul(p, load, "lowering")).forces.points
    holding = _solve(haul(p, load, "holding")).forces.points
    assert raising["hand"] >= load / 3 * (1 - 1e-9)
    assert lowering["hand"] <= load / 3 * (1 + 1e-9)
    for name in holding:
        assert holding[name] >= max(raising[name], lowering[name]) * (1 - 1e-9)


@given(angles, loads)
def test_rounding_is_to_the_safe_side(angle: float, load: float) -> None:
    """A printed force is not under the solved one, a printed margin not over the exact one."""
    worked = _solve(v(angle, load))
    for row in worked.rows:
        exact = worked.forces.points[row.place]
        assert float(row.force_kN) >= exact * (1 - 1e-9)
        assert float(row.margin) <= 22 / exact * (1 + 1e-9)
        assert float(row.margin) > 22 / exact - 0.0101


@given(loads, st.integers(2, 15))
def test_an_exact_ratio_is_kept(load: float, ratio: int) -> None:
    """A strength of exactly ratio times the load keeps the ratio; a hair less does not."""
    text = f"""
ratio = {ratio}
[point.top]
kind = "anchor"
at = [0, 0]
held_by = [{{ name = "x", strength = "%s kN" }}]
[point.load]
kind = "load"
at = [0.3, -1]
force = "{load} kN"
pull = {{ angle = 0, convention = "from vertical" }}
[point.other]
on = "top"
[rope.main]
path = ["other", "load"]
""".replace("at = [0.3, -1]", "at = [0, -1]")
    exact = Decimal(str(load)) * ratio
    assert Outcome.KEEPS is _solve(text % exact).outcome
    assert Outcome.UNDER_RATIO is _solve(text % (exact * Decimal("0.99999"))).outcome


@pytest.mark.parametrize(
    ("strength", "load", "margin", "keeps"),
    [
        ("40 kN", "600 lbf", "14.98", False),
        ("9000 lbf", "600 lbf", "15.00", True),
        ("40 kN", "280 kg", "14.56", False),
        ("20 kN", "2 kN", "10.00", False),
        ("20 kN", "200 kg", "10.19", False),
    ],
)
def test_margin_traps(strength: str, load: str, margin: str, keeps: bool) -> None:
    """40 kN over 600 lbf is 14.987, not 15; 9,000 over 600 lbf is exactly 15 (arithmetic with the
    pound-force of NIST SP 811)."""
    text = f"""
ratio = 15
[point.top]
kind = "anchor"
at = [0, 0]
held_by = [{{ name = "x", strength = "{strength}" }}]
[point.load]
kind = "load"
at = [0, -1]
force = "{load}"
[rope.main]
path = ["top", "load"]
"""
    worked = _solve(text)
    assert Decimal(margin) == worked.weakest.margin
    assert keeps is worked.outcome.allowed
    assert Fraction(600) * Fraction(LBF_kN) == Fraction(LBF_kN * 600)


ROWS = [
    ("single hang", 2.000, "11.00", "3.50"),
    ("one leg at 60°", 1.155, "19.05", "6.06"),
    ("one leg at 90°", 1.414, "15.55", "4.94"),
    ("one leg at 120°", 2.000, "11.00", "3.50"),
    ("redirect at 90°", 2.828, "7.77", "2.47"),
    ("redirect, parallel", 4.000, "5.50", "1.75"),
    ("line end, 10 % sag", 5.099, "4.31", "1.37"),
]


@pytest.mark.parametrize(("name", "force", "closed", "cross"), ROWS, ids=[row[0] for row in ROWS])
def test_end_to_end_rows(
    name: str, force: float, closed: str, cross: str, redirect_text: Text
) -> None:
    """A connector 22/7/7 under 2 kN: force, closed and crosswise margin (elementary statics)."""
    texts = {
        "single hang": "[point.a]\nkind='anchor'\nat=[0,0]\nheld_by=[{figures='22/7/7'}]\n"
        "[point.l]\nkind='load'\nat=[0,-1]\nforce='2 kN'\n[rope.m]\npath=['a','l']\n",
        "one leg at 60°": v(60, 2),
        "one leg at 90°": v(90, 2),
        "one leg at 120°": v(120, 2),
        "redirect at 90°": redirect_text(90, force="2 kN"),
        "redirect, parallel": redirect_text(0, force="2 kN"),
        "line end, 10 % sag": "[point.a]\nkind='anchor'\nat=[0,0]\nheld_by=[{figures='22/7/7'}]\n"
        "[point.b]\nkind='anchor'\nat=[10,0]\n[point.l]\nkind='load'\nforce='2 kN'\n"
        "place={between=['a','b'],sag_percent=10}\n[rope.m]\npath=['a','l']\n[rope.n]\npath=['l','b']\n",
    }
    worked = _solve(texts[name])
    row = worked.rows[0]
    assert force == pytest.approx(worked.forces.points[row.place], abs=5e-4)
    assert Decimal(closed) == row.margin
    turned = next(t for t in what_if(worked).connectors if t.planned is row)
    assert Decimal(cross) == turned.cross.row.margin


@given(st.floats(20, 150), st.floats(0.3, 3), st.floats(0.3, 3), loads)
def test_a_lost_leg_leaves_the_whole_pull(angle: float, a: float, b: float, load: float) -> None:
    """With one of two legs gone the other hangs in line and takes the whole pull."""
    half = math.radians(angle / 2)
    ways = np.array([[-math.sin(half), math.cos(half)], [math.sin(half), math.cos(half)]])
    left = forces_without(ways, np.array([a, b]), np.array([[0.0, load]]), 0)[0]
    assert [0.0, load] == pytest.approx(list(left))


@given(st.floats(0.5, 3), st.floats(0.5, 3), st.floats(-0.5, 0.5), st.floats(-0.5, 0.5), loads)
def test_two_legs_left_of_three_balance(
    a: float, b: float, x: float, y: float, load: float
) -> None:
    """Two legs that remain swing into the plane of the pull and balance it there."""
    ends = np.array([[a, 0.3, 1.5], [-b, -0.2, 1.2], [0.1, 2.0, 1.0]])
    lengths = np.linalg.norm(ends, axis=1)
    ways = ends / lengths[:, None]
    pull = load * np.array([x, y, 1.0])
    forces = forces_without(ways, lengths, pull[None], 2)[0]
    total = float(np.linalg.norm(pull))
    assert 0.0 == forces[2]
    if min(forces[:2]) == 0.0:
        assert total == pytest.approx(max(forces))
        return
    # the triangle of the two legs, laid in the plane of the line between their ends and the pull
    line = ends[1] - ends[0]
    apart = float(np.linalg.norm(line))
    axis = line / apart
    along = (lengths[0] ** 2 - lengths[1] ** 2 + apart**2) / (2 * apart)
    deep = math.sqrt(lengths[0] ** 2 - along**2)
    across = pull - (pull @ axis) * axis
    down = -across / np.linalg.norm(across)
    master = along * axis + deep * down
    first, second = -master / lengths[0], (line - master) / lengths[1]
    assert np.allclose(forces[0] * first + forces[1] * second, pull, atol=1e-6 * total)

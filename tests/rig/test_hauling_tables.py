"""Hauling systems against the tension rule, its table with friction, and seamanship tables."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from stampreader.rig import Worked
from stampreader.rig.advantage import added_pull_kN

Work = Callable[..., Worked]

TOP = "[point.top]\nkind = 'anchor'\nat = [0, 0]\n"


def _pulley(name: str, on: str, efficiency: float) -> str:
    return f"[point.{name}]\non = '{on}'\nefficiency = {efficiency}\n"


def _grab(name: str, below: str, share: float) -> str:
    return f"[point.{name}]\nplace = {{ between = ['top', '{below}'], share = {share} }}\n"


def system(
    kind: str, efficiency: float, way: str = "raising", force: str = "1 kN", redirect: bool = False
) -> str:
    """A hauling system hung vertically, hand pulling up beside the anchor; redirected, down."""
    p = efficiency
    text = f"way = '{way}'\n{TOP}[point.load]\nkind = 'load'\nat = [0, -9]\nforce = '{force}'\n"
    text += (
        "[point.hand]\nkind = 'hand'\nat = [0, -20]\n"
        if redirect
        else "[point.hand]\nkind = 'hand'\nat = [0, 5]\n"
    )
    text += _pulley("last", "top", p)
    end = "'last', 'hand'" if redirect else "'hand'"
    if kind == "2:1":
        return text + _pulley("w1", "load", p) + f"[rope.main]\npath = ['top', 'w1', {end}]\n"
    text += _pulley("a1", "top", p)
    if kind == "1:1":
        return text + f"[rope.main]\npath = ['load', {end}]\n"
    if kind == "3:1":
        return (
            text
            + _grab("g", "load", 0.5)
            + _pulley("w1", "g", p)
            + (f"[rope.main]\npath = ['load', {{ grab = 'g' }}, 'a1', 'w1', {end}]\n")
        )
    if kind == "5:1 simple":
        return (
            text
            + _grab("g", "load", 0.5)
            + _pulley("w1", "g", p)
            + _pulley("w2", "g", p)
            + _pulley("a2", "top", p)
            + (f"[rope.main]\npath = ['load', {{ grab = 'g' }}, 'a1', 'w1', 'a2', 'w2', {end}]\n")
        )
    if kind == "5:1 crevasse":
        return (
            text
            + _grab("g", "load", 0.7)
            + _pulley("w1", "g", p)
            + _grab("v", "g", 0.5)
            + (
                f"efficiency = {p}\n[rope.main]\npath = ['load', {{ grab = 'g' }}, 'a1', 'v', {end}]\n"
                "[rope.cord]\npath = ['top', 'w1', 'v']\ntowards = 'v'\n"
            )
        )
    assert kind == "9:1"
    return (
        text
        + _grab("g", "load", 0.7)
        + _pulley("w1", "g", p)
        + _grab("h", "g", 0.5)
        + _pulley("w2", "h", p)
        + _pulley("a2", "top", p)
        + (
            f"[rope.main]\npath = ['load', {{ grab = 'g' }}, 'a1', 'w1', {{ grab = 'h' }}, 'a2', 'w2', {end}]\n"
        )
    )


# Load over hand with efficiency P at each turn. The 5:1 with a second moving pulley is printed as
# 1 + 2P + 2P² (a page on crevasse rescue that measures P); the others follow from the tension rule
# given there: each pulley passes on P of what enters, a grab adds its pulley's pull.
TABLE = {
    "2:1": ("1+P", (2, 1.95, 1.90, 1.80, 1.70, 1.60, 1.50)),
    "3:1": ("1+P+P²", (3, 2.853, 2.71, 2.44, 2.19, 1.96, 1.75)),
    "5:1 crevasse": ("1+2P+2P²", (5, 4.705, 4.42, 3.88, 3.38, 2.92, 2.50)),
    "5:1 simple": ("1+P+P²+P³+P⁴", (5, 4.524, 4.095, 3.362, 2.773, 2.306, 1.938)),
    "9:1": ("(1+P+P²)²", (9, 8.137, 7.344, 5.954, 4.796, 3.842, 3.062)),
}
EFFICIENCIES = (1, 0.95, 0.9, 0.8, 0.7, 0.6, 0.5)


@pytest.mark.parametrize("kind", list(TABLE))
@pytest.mark.parametrize("column", range(7))
def test_advantage_with_friction(kind: str, column: int, worked: Work) -> None:
    """Load over hand when raising is the table's value."""
    found = worked(system(kind, EFFICIENCIES[column])).advantage
    assert found is not None
    assert TABLE[kind][1][column] == pytest.approx(found.raising, abs=6e-4)
    assert TABLE[kind][1][0] == pytest.approx(found.ideal)


# Force at each point for load 1 without friction: hand, each anchor pulley, each grab, the anchor
# in all, and the anchor in all behind one more redirect (node by node, forces conserved).
POINTS = {
    "2:1": (1 / 2, {}, {"w1": 1.0}, 1 / 2, 1.5),
    "3:1": (1 / 3, {"a1": 2 / 3}, {"w1": 2 / 3}, 2 / 3, 4 / 3),
    "5:1 simple": (1 / 5, {}, {}, 4 / 5, 6 / 5),
    "9:1": (1 / 9, {"a1": 6 / 9, "a2": 2 / 9}, {"w1": 6 / 9, "w2": 2 / 9}, 8 / 9, 10 / 9),
}


@pytest.mark.parametrize("kind", list(POINTS))
def test_force_at_each_point(kind: str, worked: Work) -> None:
    """Hand, pulleys, grabs and anchor of a frictionless system; the anchor is load minus hand, or
    load plus hand behind a redirect."""
    hand, anchors, moving, total, redirected = POINTS[kind]
    points = worked(system(kind, 1.0)).forces.points
    assert hand == pytest.approx(points["hand"])
    for name, force in (anchors | moving).items():
        assert force == pytest.approx(points[name]), name
    assert total == pytest.approx(points["top"])
    assert redirected == pytest.approx(
        worked(system(kind, 1.0, redirect=True)).forces.points["top"]
    )


def test_one_to_one_over_a_redirect(worked: Work) -> None:
    """A 1:1 over a redirect pulls on the anchor with twice the load."""
    assert 2.0 == pytest.approx(worked(system("1:1", 1.0, redirect=True)).forces.points["top"])


def test_a_held_three_to_one(worked: Work) -> None:
    """2 kN in a 3:1: hand 0.667, anchor pulley, grab and anchor in all 1.333 kN."""
    points = worked(system("3:1", 1.0, force="2 kN")).forces.points
    assert 2 / 3 == pytest.approx(points["hand"])
    assert [4 / 3] * 3 == pytest.approx([points["a1"], points["w1"], points["top"]])


def test_friction_in_a_three_to_one(worked: Work) -> None:
    """With the hand at 1, the grab carries 1 + P and the anchor pulley P + P² (tension rule)."""
    p = 0.8
    points = worked(system("3:1", p)).forces.points
    assert 1 + p == pytest.approx(points["w1"] / points["hand"])
    assert p + p**2 == pytest.approx(points["a1"] / points["hand"])


def test_ten_percent_lost_at_each_pulley(worked: Work) -> None:
    """300 lb on a 3:1 that loses 10 % at each pulley needs 111 lb (hauling page: 300 / 2.71)."""
    hand = worked(system("3:1", 0.9, force="300 lbf")).forces.points["hand"]
    assert 111 == pytest.approx(hand / 0.0044482216, abs=0.5)


NAVY = "US Navy Builder 3 & 2"
SEAMANSHIP = "seamanship book p. 40: pull = W (1 + n/10) / parts"


@pytest.mark.parametrize(
    ("weight", "sheaves", "parts", "pull", "source"),
    [
        (200, 0, 2, 100, NAVY + ": gun tackle, friction left out"),
        (600, 0, 3, 200, NAVY + ": single luff tackle, friction left out"),
        (600, 3, 3, 260, NAVY + ": about 10 % of the load for each sheave"),
        (4, 3, 4, 1.3, SEAMANSHIP + ": luff to advantage"),
        (4, 2, 2, 2.4, SEAMANSHIP + ": gun tackle to disadvantage"),
        (12, 6, 6, 3.2, SEAMANSHIP + ": three-fold to disadvantage"),
        (12, 6, 7, 2.743, SEAMANSHIP + ": three-fold to advantage, printed 2.75"),
        (20, 4, 5, 5.6, SEAMANSHIP + ": double purchase"),
        (40, 6, 7, 64 / 7, SEAMANSHIP + ": treble, printed 9 1/7"),
        (15, 3, 3, 6.5, SEAMANSHIP + ": luff to disadvantage"),
    ],
)
def test_added_friction_of_seamanship(
    weight: float, sheaves: int, parts: int, pull: float, source: str
) -> None:
    """The other rule in print adds a tenth of the load for each sheave."""
    assert pull == pytest.approx(added_pull_kN(weight, sheaves, parts), abs=6e-4), source


def test_the_two_friction_rules_differ_and_are_labelled(worked: Work) -> None:
    """3:1 at 10 %: added over two turns 0.400 of the load, multiplied 0.369; both are named."""
    from stampreader.rig import explain

    found = worked(system("3:1", 0.9))
    assert found.advantage is not None
    assert 0.400 == pytest.approx(found.advantage.added_kN)
    assert 0.369 == pytest.approx(found.advantage.hand_kN, abs=5e-4)
    text = "\n".join(explain(found))
    assert "multiplied at each turn" in text
    assert "seamanship tables, which add a tenth" in text

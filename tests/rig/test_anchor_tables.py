"""Anchors of two and more legs against printed tables and textbook problems."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from stampreader.errors import PlanError
from stampreader.rig import Worked

Work = Callable[..., Worked]
Text = Callable[..., str]

HANDBOOK = (
    "national-park technical rescue handbook, 11th ed. (2014), p. 123, after NFPA 1670 annex A"
)
ENCYCLOPAEDIA = "encyclopaedia article on climbing anchors, per 100 lb"
GUIDES = "guides' manual of 1992 as quoted by a climbing page, of 80 kg"
WEIGHTS = "climbing page, of 100 kg"
SLINGS = "US crane and sling training page, per 1,000 lb"
STATICS = "W / (2 cos(included angle / 2)), elementary statics"


@pytest.mark.parametrize(
    ("angle", "printed", "within", "source"),
    [
        (0.001, 0.5, 0.0001, HANDBOOK),
        (90, 0.7, 0.05, HANDBOOK),
        (120, 1.0, 0.05, HANDBOOK),
        (170, 5.7, 0.05, HANDBOOK),
        (179, 57.2, 0.572, HANDBOOK + "; ±1 %, the page rounded its cosine"),
        (30, 0.52, 0.01, ENCYCLOPAEDIA),
        (60, 0.58, 0.01, ENCYCLOPAEDIA),
        (90, 0.71, 0.01, ENCYCLOPAEDIA),
        (150, 1.93, 0.01, ENCYCLOPAEDIA),
        (160, 232 / 80, 0.03, GUIDES),
        (45, 0.54, 0.01, WEIGHTS),
        (90, 0.71, 0.01, WEIGHTS),
        (60, 0.577, 0.001, SLINGS),
        (90, 0.707, 0.001, SLINGS),
    ],
)
def test_two_legs_as_printed(
    angle: float, printed: float, within: float, source: str, worked: Work, v_text: Text
) -> None:
    """The share of a leg at an included angle is the printed one, within its last digit."""
    legs = worked(v_text(angle)).forces.legs
    assert legs["main", "leg0"] == pytest.approx(printed, abs=within), source
    assert legs["main", "leg0"] == pytest.approx(legs["main", "leg1"])


@pytest.mark.parametrize(
    ("included", "from_horizontal", "exact"),
    [
        (20, 80, 0.5077),
        (30, 75, 0.5176),
        (45, 67.5, 0.5412),
        (60, 60, 0.5774),
        (90, 45, 0.7071),
        (100, 40, 0.7779),
        (120, 30, 1.0000),
        (135, 22.5, 1.3066),
        (140, 20, 1.4619),
        (150, 15, 1.9319),
        (160, 10, 2.8794),
        (170, 5, 5.7369),
        (175, 2.5, 11.463),
        (179, 0.5, 57.296),
    ],
)
def test_the_two_conventions_of_an_angle_agree(
    included: float, from_horizontal: float, exact: float, worked: Work, v_text: Text
) -> None:
    """An included angle and its complement from the horizontal give one share (elementary statics)."""
    between = worked(v_text(included)).forces.legs["main", "leg0"]
    flat = worked(v_text(from_horizontal, "from horizontal")).forces.legs["main", "leg0"]
    steep = worked(v_text(90 - from_horizontal, "from vertical")).forces.legs["main", "leg0"]
    assert exact == pytest.approx(between, rel=1e-4)
    assert between == pytest.approx(flat, rel=1e-12)
    assert between == pytest.approx(steep, rel=1e-12)


@pytest.mark.parametrize(
    ("angle", "wrong", "page"),
    [
        (150, 2.00, "a rope-access training page"),
        (40, 0.54, "two climbing pages copying one chart"),
        (80, 0.70, "two climbing pages copying one chart"),
    ],
)
def test_misprinted_shares_are_not_matched(
    angle: float, wrong: float, page: str, worked: Work, v_text: Text
) -> None:
    """Values in print that statics contradicts are not given by the program."""
    assert worked(v_text(angle)).forces.legs["main", "leg0"] != pytest.approx(wrong, abs=0.005), (
        page
    )


TRIANGLE = """
[point.load]
kind = "load"
at = [0, 0]
force = "1 kN"
[point.a]
kind = "anchor"
efficiency = 1
place = {{ from = "load", angle = {half}, convention = "from vertical", side = "left", distance = 1 }}
[point.b]
kind = "anchor"
efficiency = 1
place = {{ from = "load", angle = {half}, convention = "from vertical", side = "right", distance = 1 }}
[rope.sling]
path = ["load", "a", "b", "load"]
"""


@pytest.mark.parametrize(
    ("angle", "exact", "printed", "within"),
    [
        (0.001, 0.7071, None, 0),
        (20, 0.7779, None, 0),
        (30, 0.8213, 0.82, 0.01),
        (45, 0.9000, None, 0),
        (60, 1.0000, 1.00, 0.01),
        (90, 1.3066, 1.31, 0.01),
        (100, 1.4619, None, 0),
        (120, 1.9319, 1.93, 0.01),
        (135, 2.5629, None, 0),
        (140, 2.8794, None, 0),
        (150, 3.8306, 3.80, 0.038),
        (160, 5.7369, None, 0),
        (170, 11.463, None, 0),
        (175, 22.92, None, 0),
        (179, 114.6, None, 0),
    ],
)
def test_sling_threaded_as_a_triangle(
    angle: float, exact: float, printed: float | None, within: float, worked: Work
) -> None:
    """A closed sling through two anchors pulls on each with W / (2 cos(45° + angle / 4)).

    Exact column: that formula; printed: the encyclopaedia's (±1 % at 150°). An old copy of it
    gives 0.50 at 0°, which is wrong: 0.707.
    """
    half = 180 - angle / 2  # counted from straight down
    points = worked(TRIANGLE.format(half=half)).forces.points
    assert exact == pytest.approx(points["a"], rel=2e-4)
    assert points["a"] == pytest.approx(points["b"])
    assert 1 / (2 * math.cos(math.radians(45 + angle / 4))) == pytest.approx(points["a"])
    if printed is not None:
        assert printed == pytest.approx(points["a"], abs=within), ENCYCLOPAEDIA


def test_legs_in_one_line_are_refused(worked: Work, v_text: Text) -> None:
    """At 180° no tension can hold a load; the plan is refused with the reason."""
    with pytest.raises(PlanError, match=r"line 9: .*180° included"):
        worked(v_text(180))


# OSHA, Guidance on Safe Sling Use, Tables 1 and 2 (alloy chain, grades 80 and 100): working load
# limits in lb for one vertical leg, for two legs at 60/45/30° from the horizontal, and for three
# and four legs at 60/45/30°. Four legs are given the figure of three.
OSHA = """
2100 3600 3000 2100 5500 4400 3200
3500 6100 4900 3500 9100 7400 5200
4500 7800 6400 4500 11700 9500 6800
7100 12300 10000 7100 18400 15100 10600
12000 20800 17000 12000 31200 25500 18000
18100 31300 25600 18100 47000 38400 27100
28300 49000 40000 28300 73500 60000 42400
34200 59200 48400 34200 88900 72500 51300
47700 82600 67400 47700 123900 101200 71500
72300 125200 102200 72300 187800 153400 108400
2700 4700 3800 2700 7000 5700 4000
4300 7400 6100 4300 11200 9100 6400
5700 9900 8100 5700 14800 12100 8500
8800 15200 12400 8800 22900 18700 13200
15000 26000 21200 15000 39000 31800 22500
"""
CELLS = [
    (int(row.split()[0]), legs, angle, int(printed))
    for row in OSHA.strip().splitlines()
    for printed, (legs, angle) in zip(
        row.split()[1:], [(2, 60), (2, 45), (2, 30), (3, 60), (3, 45), (3, 30)], strict=True
    )
]


def test_ninety_cells_are_compared() -> None:
    """The two tables hold 90 cells for two, three and four legs."""
    assert 90 == len(CELLS)


@pytest.mark.parametrize("legs", [2, 3, 4])
def test_osha_sling_tables(legs: int, worked: Work, v_text: Text) -> None:
    """One leg's limit over its share of the load is the printed limit of the sling (OSHA)."""
    shares = {
        angle: worked(
            v_text(angle, "from horizontal", legs, more="sharing = 'as three'" if legs == 4 else "")
        ).forces.legs["main", "leg0"]
        for angle in (60, 45, 30)
    }
    for single, counted, angle, printed in CELLS:
        if counted == min(legs, 3):
            assert printed == pytest.approx(single / shares[angle], abs=100), (single, legs, angle)


def test_three_equal_legs_share_in_thirds(worked: Work, v_text: Text) -> None:
    """Three legs in space at 90, 60, 45 and 30° carry W / (3 sin angle) each (statics)."""
    for angle, share in ((89.9999, 0.3333), (60, 0.3849), (45, 0.4714), (30, 0.6667)):
        found = worked(v_text(angle, "from horizontal", 3)).forces.legs
        assert [share] * 3 == pytest.approx(list(found.values()), abs=1e-4)


def test_four_legs_are_counted_as_two(worked: Work, v_text: Text) -> None:
    """Of four legs two may hold nearly all (US Navy manuals 14251 p. 6-36 and 14080 p. 3-24)."""
    four = worked(v_text(45, "from horizontal", 4)).forces.legs
    two = worked(v_text(45, "from horizontal", 2)).forces.legs
    assert [two["main", "leg0"]] * 4 == pytest.approx(list(four.values()))


def test_all_on_one_leg(worked: Work, v_text: Text) -> None:
    """On request each leg is counted with the whole load, or with its share where that is more."""
    rule = "sharing = 'one leg'"
    assert [1.0] * 2 == pytest.approx(list(worked(v_text(60, more=rule)).forces.legs.values()))
    wide = 1 / (2 * math.cos(math.radians(75)))
    assert [wide] * 2 == pytest.approx(list(worked(v_text(150, more=rule)).forces.legs.values()))


def _hung(left: float, right: float, newton: float) -> str:
    """A light on two strings at angles above the horizontal."""
    return f"""
[point.load]
kind = "load"
at = [0, 0]
force = "{newton} N"
[point.a]
kind = "anchor"
place = {{ from = "load", angle = {left}, convention = "from horizontal", side = "left", distance = 2 }}
[point.b]
kind = "anchor"
place = {{ from = "load", angle = {right}, convention = "from horizontal", side = "right", distance = 3 }}
[anchor.main]
joins = "load"
legs = ["a", "b"]
"""


@pytest.mark.parametrize(
    ("left", "right", "newton", "tensions", "source"),
    [
        (37, 53, 122, (73.4, 97.4), "Serway, Physics: traffic light of 122 N at 37° and 53°"),
        (53, 37, 294, (234.8, 176.9), "solved problem: 30 kg at 53° and 37°, g = 9.8"),
        (30, 45, 147.0, (107.6, 131.8), "15 kg at 30° and 45°: W cos b / sin(a+b)"),
        (20, 20, 245, (358.2, 358.2), "25 kg is 245 N; a homework page that took 235 N is wrong"),
        (20, 30, 245, (277.0, 300.5), "25 kg at 20° and 30°, in the same place"),
    ],
)
def test_unequal_legs_of_textbooks(
    left: float,
    right: float,
    newton: float,
    tensions: tuple[float, float],
    source: str,
    worked: Work,
) -> None:
    """Hanging weights of textbooks give the printed tensions."""
    legs = worked(_hung(left, right, newton)).forces.legs
    assert tensions == pytest.approx(tuple(1000 * f for f in legs.values()), abs=0.06), source


def test_a_right_angle_squares_up(worked: Work) -> None:
    """At 53° and 37° the strings are at right angles: the squares of the tensions add to W²."""
    legs = worked(_hung(53, 37, 294)).forces.legs.values()
    assert 0.294**2 == pytest.approx(sum(force**2 for force in legs))


def test_measured_anchor(worked: Work, v_text: Text) -> None:
    """500 lb on a two-point anchor at 90° read about 700 lb in all (mountain-rescue symposium)."""
    legs = worked(v_text(90, force="500 lbf")).forces.legs.values()
    assert 700 == pytest.approx(sum(legs) / 0.0044482216, rel=0.015)

"""Tensioned lines and loads along a high line, against textbook problems."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from stampreader.errors import PlanError
from stampreader.rig import Worked
from stampreader.units import GRAVITY_m_s2, LBF_kN

Work = Callable[..., Worked]
G = 9.8
"""Textbooks count with 9.8 m/s²."""


def line(place: str, force: str, span: float = 30.0) -> str:
    """A load hung on two stretches of line between level anchors."""
    return f"""
[point.left]
kind = "anchor"
at = [0, 0]
[point.right]
kind = "anchor"
at = [{span}, 0]
[point.load]
kind = "load"
force = "{force}"
place = {{ between = ["left", "right"], {place} }}
[rope.a]
path = ["left", "load"]
[rope.b]
path = ["load", "right"]
"""


@pytest.mark.parametrize(
    ("sag_percent", "exact"),
    [
        (2, 12.51),
        (5, 5.025),
        (6.25, 4.031),
        (10, 2.550),
        (12.5, 2.062),
        (15, 1.740),
        (20, 1.346),
        (25, 1.118),
    ],
)
def test_tension_from_sag(sag_percent: float, exact: float, worked: Work) -> None:
    """T = W √((S/2)² + d²) / (2 d) at midspan, the full formula (statics of two strings)."""
    ropes = worked(line(f"sag_percent = {sag_percent}", "1 kN")).forces.ropes
    assert exact == pytest.approx(ropes["a"], rel=5e-4)
    assert ropes["a"] == pytest.approx(ropes["b"])
    short = 100 / sag_percent / 4
    assert ropes["a"] > short, "the short formula W S / (4 d) is on the unsafe side"


@pytest.mark.parametrize(
    ("place", "kg", "span", "newton", "within", "source"),
    [
        (
            "sag = 2.1",
            60,
            36,
            2537,
            1,
            "Giancoli: 60 kg at midspan, 36 m, 2.1 m below; printed 2,500",
        ),
        (
            f"sag = {50 * math.tan(math.radians(3))}",
            70,
            100,
            6553.9,
            0.2,
            "70 kg, both sides 3°; printed 6,553.8",
        ),
        (
            f"sag = {50 * math.tan(math.radians(10))}",
            90,
            100,
            2540,
            1,
            "Young & Freedman 5.3: 90 kg, both sides 10°; printed 2.54 kN",
        ),
        ("sag = 1.5", 70, 460, 52600, 100, "textbook copy: 70 kg, 460 m, 1.5 m; printed 5.25e4"),
        (
            "sag = 0.4",
            60,
            20,
            7356,
            2,
            "60 kg, 20 m wire, 0.4 m: a homework page prints 14,700 by taking the whole span for half",
        ),
    ],
)
def test_textbook_lines(
    place: str, kg: float, span: float, newton: float, within: float, source: str, worked: Work
) -> None:
    """A weight at midspan gives the tension the textbook prints, or the exact one beside it."""
    found = worked(line(place, f"{kg * G:.6f} N", span)).forces.ropes["a"]
    assert newton == pytest.approx(1000 * found, abs=within), source


def test_wrong_wire_answer_is_standard_gravity_too(worked: Work) -> None:
    """60 kg on the 20 m wire is 7.36 kN also with standard gravity typed as a mass."""
    found = worked(line("sag = 0.4", "60 kg", 20)).forces.ropes["a"]
    exact = 60 * float(GRAVITY_m_s2) / 1000 * math.hypot(10, 0.4) / 0.8
    assert exact == pytest.approx(found)


@pytest.mark.parametrize(
    ("share", "left", "right"),
    [(0.5, 783, 783), (0.1, 486.7, 273.7)],
)
def test_load_along_a_high_line(share: float, left: float, right: float, worked: Work) -> None:
    """450 lb on 100 ft, 15 ft below: 783 lb each at midspan; 486.7 and 273.7 lb at 10 ft (statics)."""
    text = 'lengths = "ft"\n' + line(f"share = {share}, sag = 15", "450 lbf", 100)
    ropes = worked(text).forces.ropes
    assert left == pytest.approx(ropes["a"] / float(LBF_kN), abs=0.5)
    assert right == pytest.approx(ropes["b"] / float(LBF_kN), abs=0.5)


def test_two_hundred_pounds_at_ten_percent(worked: Work) -> None:
    """The rule of thumb of 10 % sag for each 200 lb means 510 lb in the line."""
    found = worked(line("sag_percent = 10", "200 lbf")).forces.ropes["a"]
    assert 510 == pytest.approx(found / float(LBF_kN), abs=1)


def test_line_of_given_length(worked: Work) -> None:
    """A 34 m line between ends 30 m apart sags 8 m at the middle (half of it is 17 = √(15² + 8²))."""
    found = worked(line("line_length = 34", "1 kN"))
    assert -8.0 == pytest.approx(found.plan.points["load"].at[1])
    quarter = worked(line("line_length = 34, share = 0.25", "1 kN")).plan.points["load"].at
    assert 34 == pytest.approx(math.dist(quarter, (0, 0)) + math.dist(quarter, (30, 0)))


def test_a_line_without_sag_is_refused(worked: Work) -> None:
    """A line drawn straight cannot hold a load across it, whatever its tension."""
    with pytest.raises(PlanError, match=r"line 8: .*180° apart"):
        worked(line("share = 0.5", "1 kN"))


def test_carriage_and_control_line(worked: Work) -> None:
    """A pulley on one track line away from midspan needs a control line: the parts balance.

    Track with tension T both sides and control force C along the chord's direction to the left:
    at share 0.25 the strands differ in slope, and T, C follow from two equations.
    """
    text = """
[point.left]
kind = "anchor"
at = [0, 0]
[point.right]
kind = "anchor"
at = [40, 0]
[point.load]
kind = "load"
force = "2 kN"
efficiency = 1
place = { between = ["left", "right"], share = 0.25, sag = 4 }
[point.crew]
kind = "hand"
at = [0, -4]
[rope.track]
path = ["left", "load", "right"]
[rope.control]
path = ["crew", "load"]
"""
    ropes = worked(text).forces.ropes
    a, b = math.hypot(10, 4), math.hypot(30, 4)
    tension = 2 / (4 / a + 4 / b)
    assert tension == pytest.approx(ropes["track"])
    assert tension * (30 / b - 10 / a) == pytest.approx(ropes["control"])

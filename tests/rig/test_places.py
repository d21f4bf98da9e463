"""Places of points: by coordinates, by angle in each convention, along a line, by hanging."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from stampreader.errors import PlanError
from stampreader.rig import Plan
from stampreader.rig.geometry import angle_between_deg, rising, sag_of_length_m, turned

Read = Callable[..., Plan]

FRAME = """
[point.top]
kind = "anchor"
at = [1, 2]
efficiency = 1
[point.load]
kind = "load"
at = [1, -2]
force = "1 kN"
[point.hand]
kind = "hand"
place = {{ from = "top", distance = 2, {angle} }}
[rope.main]
path = ["load", "top", "hand"]
"""


@pytest.mark.parametrize(
    ("angle", "way"),
    [
        ('angle = 30, convention = "from horizontal", side = "right"', (math.sqrt(3) / 2, 0.5)),
        ('angle = 30, convention = "from horizontal", side = "left"', (-math.sqrt(3) / 2, 0.5)),
        ('angle = -90, convention = "from horizontal"', (0, -1)),
        ('angle = 0, convention = "from vertical"', (0, -1)),
        ('angle = 30, convention = "from vertical", side = "right"', (0.5, -math.sqrt(3) / 2)),
        ('angle = 90, convention = "from vertical", side = "left"', (-1, 0)),
        (
            'with = "load", angle = 60, convention = "included", side = "right"',
            (math.sqrt(3) / 2, -0.5),
        ),
        (
            'with = "load", angle = 60, convention = "included", side = "left"',
            (-math.sqrt(3) / 2, -0.5),
        ),
        (
            'with = "load", angle = 120, convention = "deflection", side = "right"',
            (math.sqrt(3) / 2, -0.5),
        ),
        ('with = "load", angle = 180, convention = "included"', (0, 1)),
    ],
)
def test_each_convention(angle: str, way: tuple[float, float], read: Read) -> None:
    """An angle lays a point off as its convention says (plane trigonometry)."""
    x, y = read(FRAME.format(angle=angle)).points["hand"].at
    assert (1 + 2 * way[0], 2 + 2 * way[1]) == pytest.approx((x, y), abs=1e-12)


@pytest.mark.parametrize(
    ("angle", "what"),
    [
        ('angle = 30, convention = "from horizontal"', "needs a side"),
        ('with = "load", angle = 60, convention = "included"', "two sides"),
        ('with = "load", angle = 60, convention = "included", side = "above"', "two sides"),
        ('angle = 60, convention = "included"', "has no 'with'"),
        ('with = "top", angle = 60, convention = "included"', "lie at one place"),
        ('with = "load", angle = 60', "measured from"),
        ('angle = 400, convention = "from vertical"', "-180 to 180"),
        ("convention = 'from vertical'", "has no 'angle'"),
    ],
)
def test_angles_that_say_too_little(angle: str, what: str, read: Read) -> None:
    """An angle without its convention or side is refused on its line."""
    with pytest.raises(PlanError, match=r"line 12: .*") as caught:
        read(FRAME.format(angle=angle))
    assert what in caught.value.line()


def test_hanging_point_takes_the_place_of_what_it_hangs_on(read: Read) -> None:
    """A point 'on' another lies where that lies."""
    text = FRAME.format(angle="angle = 0, convention = 'from vertical'")
    plan = read(
        text.replace("at = [1, -2]", "at = [1, -2]") + "[point.extra]\non = 'load'\nheld_by = []\n"
    )
    assert plan.points["load"].at == plan.points["extra"].at
    assert "load" == plan.root("extra")


def test_feet_are_exact(read: Read) -> None:
    """Lengths in feet become metres: 1 ft is 0.3048 m exactly (NIST SP 811, appendix B)."""
    text = 'lengths = "ft"\n' + FRAME.format(angle="angle = 0, convention = 'from vertical'")
    assert (0.3048, 0.6096) == pytest.approx(read(text).points["top"].at, rel=1e-15)


def test_space_by_bearing(read: Read) -> None:
    """In space a bearing turns from the first axis towards the second."""
    text = FRAME.replace("[1, 2]", "[0, 0, 2]").replace("[1, -2]", "[0, 0, -2]")
    plan = read(text.format(angle="angle = 0, convention = 'from horizontal', bearing = 90"))
    assert (0, 2, 2) == pytest.approx(plan.points["hand"].at, abs=1e-12)


def test_examples_of_the_docstrings() -> None:
    """The worked examples of the geometry stand."""
    assert 8.0 == pytest.approx(sag_of_length_m((0.0, 0.0), (30.0, 0.0), 0.5, 34.0))
    assert (0.0, 1.0) == rising(90, 2, 0)
    assert (0.0, 1.0) == turned((1.0, 0.0), 90)
    assert 180.0 == pytest.approx(angle_between_deg((1.0, 0.0), (-1.0, 0.0)))
    assert 1e-6 == pytest.approx(angle_between_deg((1.0, 0.0), (1.0, math.radians(1e-6))))

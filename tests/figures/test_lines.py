from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from laying import lay, transformed

from stampreader.figures.doubles import without_doubles
from stampreader.figures.geometry import box_around, in_frame, mean_angle, mean_axis, turn_between
from stampreader.figures.groups import group_lines
from stampreader.figures.lines import find_lines
from stampreader.words import Glyph


def arc(text: str, radius: float, centre: tuple[float, float] = (2000.0, 2000.0)) -> list[Glyph]:
    """Text round a circle, heads outwards."""
    out = []
    for g in lay(text, 0.0, 0.0):
        turn = g.x / radius
        out.append(
            replace(
                g,
                x=centre[0] + (radius - g.y) * math.sin(turn),
                y=centre[1] - (radius - g.y) * math.cos(turn),
                angle_deg=math.degrees(turn) % 360.0,
            )
        )
    return out


@pytest.mark.parametrize("angle", [0, 30, 90, 135, 180, 250, 359])
def test_a_straight_line_stays_one_line_at_any_angle(angle: float) -> None:
    """All glyphs of a line are chained in order, whichever way the photo is turned."""
    lines = find_lines(lay("27kN8kN", 2000, 2000, angle=angle))
    assert 1 == len(lines)
    assert "27KN8KN" in (
        "".join(g.char for g in line.glyphs) for line in (*lines, lines[0].reversed())
    )


@pytest.mark.parametrize("radius", [150, 250, 400, 1000])
def test_a_line_on_an_arc_stays_one_line(radius: float) -> None:
    """A text set round a bow is one line, with tangents that turn along."""
    glyphs = arc("CE 9123 EN 362", radius)
    lines = find_lines(glyphs)
    assert 1 == len(lines)
    turned = abs(turn_between(lines[0].tangents_deg[0], lines[0].tangents_deg[-1]))
    swept = abs(turn_between(glyphs[0].angle_deg, glyphs[-1].angle_deg))
    assert swept == pytest.approx(turned, abs=12)


def test_two_lines_are_kept_apart() -> None:
    """Lines set 1.4 heights apart do not mix."""
    glyphs = lay("CE9123", 1500, 1500) + lay("EN362B", 1500, 1542)
    assert {6} == {len(line.glyphs) for line in find_lines(glyphs)}


def test_a_line_survives_noisy_and_reversed_directions() -> None:
    """Ten degrees of noise and glyphs taken upside down do not break a line."""
    rng = np.random.default_rng(5)
    glyphs = [
        replace(g, angle_deg=(g.angle_deg + rng.normal(0, 10) + (180 if k % 3 == 0 else 0)) % 360)
        for k, g in enumerate(lay("18kN 80kN 10kN", angle=20))
    ]
    assert 1 == len(find_lines(glyphs))


def test_the_weaker_of_two_glyphs_on_one_place_becomes_an_alternative() -> None:
    """A 3 under an 8 is kept as the 8's second choice."""
    strong = Glyph("8", 100, 100, 30, 18, 0, 0.7)
    weak = Glyph("3", 102, 101, 30, 18, 0, 0.25)
    assert (replace(strong, alternatives=(("3", 0.25),)),) == without_doubles([weak, strong], 0.1)


def test_a_ring_does_not_swallow_its_letter() -> None:
    """A ring round a type letter and the letter are both kept, and joined in the line."""
    letter = Glyph("H", 100, 100, 30, 18, 0, 0.9)
    ring = Glyph("<ring>", 100, 100, 50, 50, 0, 0.95)
    (line,) = find_lines(without_doubles([letter, ring], 0.1))
    assert (("H",), {0}) == (tuple(g.char for g in line.glyphs), set(line.rings))


def test_a_decimal_point_is_put_between_its_digits() -> None:
    """The small glyph at the baseline stands between 9 and 5 in the line."""
    (line,) = find_lines(lay("9.5"))
    assert "9.5" in (
        "".join(g.char for g in line.glyphs),
        "".join(g.char for g in line.reversed().glyphs),
    )


def test_smaller_units_belong_to_the_line_of_their_figure() -> None:
    """kN at half the height on the same baseline is part of the line."""
    figure = lay("27", 1000, 1000, height=40)
    unit = lay("kN", 1075, 1010, height=20)
    assert 1 == len(find_lines(figure + unit))


def test_connectors_far_apart_are_different_stamps() -> None:
    """Lines fifteen heights apart across are two groups, two heights apart one."""
    far = find_lines(lay("27kN", 1000, 1000) + lay("22kN", 1000, 1450))
    near = find_lines(lay("27kN", 1000, 1000) + lay("22kN", 1000, 1060))
    assert (2, 1) == (len(group_lines(far)), len(group_lines(near)))


@settings(max_examples=60, deadline=None)
@given(
    turn=st.floats(0, 360),
    scale=st.floats(0.3, 1.6),
    dx=st.floats(-200, 200),
    dy=st.floats(-200, 200),
)
def test_lines_and_groups_do_not_depend_on_how_the_photo_is_held(
    turn: float, scale: float, dx: float, dy: float
) -> None:
    """Turning, scaling and moving all glyphs leaves lines and groups as they were."""
    glyphs = lay("{C}27kN {X}9.5kN {O}7kN", 1600, 1900) + lay("CE 9123 UIAA", 1600, 1960)
    before = find_lines(glyphs)
    after = find_lines(transformed(glyphs, turn, scale, dx, dy))
    members = [sorted(_index(glyphs, line.glyphs)) for line in before]
    moved = transformed(glyphs, turn, scale, dx, dy)
    assert sorted(members) == sorted(sorted(_index(moved, line.glyphs)) for line in after)
    assert len(group_lines(before)) == len(group_lines(after))


def _index(glyphs: list[Glyph], some: tuple[Glyph, ...]) -> list[int]:
    places = {(g.char, round(g.x, 6), round(g.y, 6)): k for k, g in enumerate(glyphs)}
    return [places[g.char, round(g.x, 6), round(g.y, 6)] for g in some]


@given(st.floats(-720, 720), st.floats(-720, 720))
def test_turns_add_up(a: float, b: float) -> None:
    """The turn from a to b leads to b and is at most half a round."""
    turn = turn_between(a, b)
    assert abs(turn) <= 180.0
    assert math.cos(math.radians(b)) == pytest.approx(math.cos(math.radians(a + turn)), abs=1e-6)


def test_means_of_angles_and_axes_go_round_the_circle() -> None:
    """350 and 10 degrees average to 0; the axes 170 and 10 too (circular statistics)."""
    assert 0.0 == pytest.approx(turn_between(mean_angle((350, 10)), 0.0), abs=1e-9)
    assert 0.0 == pytest.approx(turn_between(2 * mean_axis((170, 10)), 0.0), abs=1e-9)


def test_a_box_has_its_corners_in_reading_order() -> None:
    """Top-left, top-right, bottom-right, bottom-left as read, with the glyph's size."""
    box = box_around([Glyph("8", 100, 50, 20, 10, 90, 1.0)], 90.0)
    assert ((110, 45), (110, 55), (90, 55), (90, 45)) == tuple(
        (pytest.approx(x), pytest.approx(y)) for x, y in box
    )


def test_the_frame_has_down_at_right_angles_to_along() -> None:
    """In a frame that reads downwards, a point to the left lies below the line."""
    along, down = in_frame((0, 0), 90.0, (-3, 4))
    assert (4.0, 3.0) == (pytest.approx(along), pytest.approx(down))

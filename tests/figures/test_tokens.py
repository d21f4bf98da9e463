from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from laying import lay

from stampreader.figures.direction import decide
from stampreader.figures.lines import Line, find_lines
from stampreader.figures.tokens import Number, ends_with, find_numbers, usual_space, word_before
from stampreader.words import Glyph


def line_of(glyphs: list[Glyph]) -> Line:
    """The only line, read the right way round."""
    ((line, _),) = decide(find_lines(glyphs))
    return line


def numbers(text: str, **how: float) -> list[tuple[str, str | None]]:
    """Numbers and units of a line of text."""
    return [(n.text, n.unit) for n in find_numbers(line_of(lay(text, **how)), 0)]


CASES = {
    "unit-after-each": ("27kN 8kN", [("27", "KN"), ("8", "KN")]),
    "unit-with-a-space": ("27 kN", [("27", "KN")]),
    "unit-before": ("kN 27", [("27", "KN")]),
    "decimal": ("9.5kN", [("9.5", "KN")]),
    "two-decimals": ("10.68kN", [("10.68", "KN")]),
    "pounds": ("5000lbf".upper(), [("5000", "LBF")]),
    "kilograms": ("250kg".upper(), [("250", "KG")]),
    "decanewtons": ("2200daN".upper(), [("2200", "DAN")]),
    "tonnes": ("2.5t".upper(), [("2.5", "T")]),
    "slashes": ("24/8/9kN", [("24", None), ("8", None), ("9", "KN")]),
    "dashes": ("24-8-9kN", [("24", None), ("8", None), ("9", "KN")]),
    "spaces": ("24 8 9 kN", [("24", None), ("8", None), ("9", "KN")]),
    "full-stop": ("22kN.", [("22", "KN")]),
    "serial": ("A1234B", [("1234", None)]),
}


@pytest.mark.parametrize(("text", "expected"), CASES.values(), ids=CASES.keys())
def test_numbers_and_units(text: str, expected: list[tuple[str, str | None]]) -> None:
    """Numbers are parted by spaces, signs and units; units stand behind or before them."""
    assert expected == numbers(text)


@pytest.mark.parametrize(
    ("text", "attached"), [("A27", True), ("27B", True), ("27kN", False), ("8kN7kN", False)]
)
def test_letters_against_a_number_make_it_no_strength(text: str, attached: bool) -> None:
    """A27 and 27B are parts of a type or serial; a unit before the next number is none."""
    assert attached == any(n.attached for n in find_numbers(line_of(lay(text)), 0))


@pytest.mark.parametrize(
    ("text", "like"),
    [("27", True), ("9.5", True), ("100", True), ("2019", False), ("0", False), ("012", False)],
)
def test_what_a_figure_in_kN_may_look_like(text: str, like: bool) -> None:
    """One to three digits without a leading zero, decimals allowed."""
    assert like == find_numbers(line_of(lay(text)), 0)[0].is_strength_like


def test_a_letter_is_a_digit_only_if_the_reader_thought_of_it() -> None:
    """O in 2O kN becomes 0 where 0 is among its alternatives, and only there."""
    plain = lay("2OkN")
    thought = [
        replace(g, confidence=0.6, alternatives=(("0", 0.35),)) if g.char == "O" else g
        for g in plain
    ]
    assert ["20"] == [n.text for n in find_numbers(line_of(thought), 0)]
    assert ["2"] == [n.text for n in find_numbers(line_of(plain), 0)]


def test_a_unit_of_which_one_letter_is_misread_is_still_kN() -> None:
    """K and H behind a number is kN if N is among the alternatives of H."""
    glyphs = [
        replace(g, char="H", confidence=0.6, alternatives=(("N", 0.3),)) if g.char == "N" else g
        for g in lay("27kN")
    ]
    assert ["KN"] == [n.unit for n in find_numbers(line_of(glyphs), 0)]


@pytest.mark.parametrize("tracking", [0.0, 0.15, 0.3, 0.5])
def test_wide_spacing_does_not_split_a_number(tracking: float) -> None:
    """The line's own spacing decides what is a space: 27 set wide is not 2 and 7."""
    glyphs = [replace(g, x=g.x + k * tracking * 30.0) for k, g in enumerate(lay("27kN"))]
    assert ["27"] == [n.text for n in find_numbers(line_of(glyphs), 0)]
    assert 0.15 + tracking == pytest.approx(usual_space(line_of(glyphs)), abs=0.02)


def test_a_point_at_half_height_parts_numbers() -> None:
    """A point at the foot is a decimal point, one at half height a separator."""
    raised = [replace(g, y=g.y - 0.42 * 30.0) if g.char == "." else g for g in lay("24.8kN")]
    assert ["24", "8"] == [n.text for n in find_numbers(line_of(raised), 0)]
    assert ["24.8"] == [n.text for n in find_numbers(line_of(lay("24.8kN")), 0)]


def test_a_number_with_a_lost_first_digit_before_its_point_is_doubtful() -> None:
    """.5 is read as 5, but marked."""
    (number,) = find_numbers(line_of(lay(".5kN")), 0)
    assert ("5", True) == (number.text, number.crowded)


@pytest.mark.parametrize(
    ("text", "word"), [("GATE 16", "GATE"), ("GATE16", "GATE"), ("WLL. 5", "WLL"), ("27 16", "")]
)
def test_the_word_before_a_number(text: str, word: str) -> None:
    """Letters right before a number, over a space or a point at most."""
    line = line_of(lay(text))
    found = word_before(line, find_numbers(line, 0)[-1].places[0])
    assert word == "".join(g.char for g in found)


@pytest.mark.parametrize(
    ("read", "same"), [("GATE", True), ("6ATE", True), ("CATE", True), ("MADE", False)]
)
def test_a_word_is_known_with_one_letter_in_four_misread(read: str, same: bool) -> None:
    """GATE with one letter wrong still says that the number is the gate's."""
    assert same == ends_with(lay(read), "GATE")


@settings(max_examples=80, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(1, 99), st.sampled_from(["", ".5", ".2"])), min_size=1, max_size=4
    ),
    st.sampled_from([0.75, 1.0, 1.4]),
)
def test_any_row_of_figures_with_units_is_read_back(
    figures: list[tuple[int, str]], space: float
) -> None:
    """What was written as figures in kN comes back as the same decimals."""
    texts = [f"{whole}{part}" for whole, part in figures]
    found = numbers(" ".join(f"{t}kN" for t in texts), space=space)
    assert [(Decimal(t), "KN") for t in texts] == [(Decimal(t), unit) for t, unit in found]


def test_a_number_with_two_points_has_no_value() -> None:
    """12.5.3 is a version or a date, never a strength."""
    glyphs = tuple(lay("12.5.3"))
    number = Number("12.5.3", 0, tuple(range(6)), glyphs)
    assert (None, False) == (number.value, number.is_strength_like)

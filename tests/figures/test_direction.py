from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from laying import lay, upside_down_glyphs

from stampreader.figures.direction import UPSIDE_DOWN, decide, line_evidence, upside_down
from stampreader.figures.lines import find_lines

# Numbers that read the same upside down: sequence A000787 of the On-Line Encyclopedia of Integer
# Sequences, its terms below 1000.
STROBOGRAMMATIC = (
    "0 1 8 11 69 88 96 101 111 181 609 619 689 808 818 888 906 916 986".split()  # noqa: SIM905
)


def test_numbers_that_read_the_same_upside_down_are_those_of_the_literature() -> None:
    """Of all numbers below 1000 exactly the strobogrammatic ones turn into themselves."""
    assert STROBOGRAMMATIC == [str(n) for n in range(1000) if upside_down(str(n)) == str(n)]


@pytest.mark.parametrize(
    ("text", "turned"),
    [
        ("6", "9"),
        ("18", "81"),
        ("69", "69"),
        ("16", "91"),
        ("27", None),
        ("24", None),
        ("KN", None),
        ("NOON", "NOON"),
        ("SOS", "SOS"),
    ],
)
def test_what_texts_read_as_upside_down(text: str, turned: str | None) -> None:
    """By the shapes of the characters: 6 and 9 change places, 2, 3, 4, 5 and 7 read as nothing."""
    assert turned == upside_down(text)


@given(st.text("0168 9HINOSXZ-".replace(" ", "")))
def test_turning_twice_gives_the_text_back(text: str) -> None:
    """Half a turn twice is a whole turn."""
    once = upside_down(text)
    assert once is not None
    assert text == upside_down(once)


def read(glyphs: list) -> tuple[str, float, float]:
    """Text, evidence and clear evidence of the only line."""
    ((line, direction),) = decide(find_lines(glyphs))
    return "".join(g.char for g in line.glyphs), direction.evidence, direction.letters


@pytest.mark.parametrize("angle", [0, 45, 90, 180, 200, 300])
def test_a_stamp_with_clear_characters_is_read_the_right_way_round(angle: float) -> None:
    """27kN reads 27kN at any angle, with much evidence."""
    text, evidence, _ = read(lay("27kN", 2000, 2000, angle=angle))
    assert "27KN" == text
    assert evidence > 8.0


@pytest.mark.parametrize("text", ["6", "9", "8", "1", "0", "69", "18", "96", "81", "808"])
def test_a_number_that_reads_upside_down_gives_hardly_any_evidence(text: str) -> None:
    """Without other characters next to it its direction stays open."""
    _, evidence, letters = read(lay(text))
    assert evidence < 1.5
    assert letters < 1.5


def test_glyphs_a_reader_took_upside_down_are_outvoted() -> None:
    """One 9 seen as a turned 6 in a line of clear characters changes nothing."""
    glyphs = lay("29kN")
    glyphs[1:2] = upside_down_glyphs(glyphs[1:2], UPSIDE_DOWN)
    assert "2" == read(glyphs)[0][0]


def test_lines_of_one_stamp_share_their_evidence() -> None:
    """A line with 8 alone is helped by the line below that says 27kN."""
    alone = decide(find_lines(lay("8", 1500, 1500)))[0][1].evidence
    lines = find_lines(lay("8", 1500, 1500) + lay("27kN", 1500, 1545))
    helped = next(d.evidence for line, d in decide(lines) if line.glyphs[0].char == "8")
    assert helped > alone + 3.0


def test_evidence_changes_its_sign_with_the_order_of_reading() -> None:
    """Reading a line backwards gives the opposite evidence."""
    (line,) = find_lines(lay("CE9123 22kN"))
    forward, backward = line_evidence(line)[0], line_evidence(line.reversed())[0]
    assert forward == pytest.approx(-backward)


def test_a_decimal_point_tells_top_from_bottom() -> None:
    """8.8 reads upside down but for its point, which stands at the foot."""
    assert read(lay("8.8"))[1] > read(lay("88"))[1] + 1.0


def test_a_second_impression_from_the_other_side_keeps_its_direction() -> None:
    """Marks put in the other way round below do not turn the figures, nor make them doubtful."""
    figures = lay("27kN 24kN", 1500, 1500)
    marks = lay("CE 9123 UIAA", 1900, 1560, angle=180)
    alone = decide(find_lines(figures))[0][1].evidence
    read = {
        "".join(g.char for g in line.glyphs): d for line, d in decide(find_lines(figures + marks))
    }
    assert {"27KN24KN", "CE9123UIAA"} == set(read)
    assert read["27KN24KN"].evidence > 0.8 * alone

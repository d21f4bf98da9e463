from __future__ import annotations

from dataclasses import replace

import pytest

from stampreader.marks import find_marks, find_spans
from stampreader.words import Glyph

WIDTHS = {"I": 7.0, ".": 5.0, ":": 5.0, "1": 10.0}


def line(text: str, y: float = 100.0, confidence: float = 0.97) -> list[Glyph]:
    """Glyphs of one level line 30 pixels high; a blank is 24 pixels wide."""
    glyphs, x = [], 50.0
    for char in text:
        if char == " ":
            x += 24.0
            continue
        wide = WIDTHS.get(char, 18.0)
        glyphs.append(Glyph(char, x + wide / 2, y, 30.0, wide, 0.0, confidence))
        x += wide + 5.0
    return glyphs


def doubt(
    glyphs: list[Glyph], place: int, char: str, other: str, confidence: float = 0.55
) -> list[Glyph]:
    """One glyph read as another character, with the right one as its second choice."""
    changed = replace(
        glyphs[place], char=char, confidence=confidence, alternatives=((other, 0.9 - confidence),)
    )
    return [changed if k == place else g for k, g in enumerate(glyphs)]


def texts(*lines: list[Glyph]) -> list[str]:
    """Normal forms found in lines of glyphs."""
    return [mark.text for mark in find_marks(lines)]


def test_a_mark_in_glyphs_has_its_confidence_and_box() -> None:
    """The confidence is at most that of its free digits together; the box surrounds the glyphs."""
    (mark,) = find_marks([line("CE 9123")])
    assert "CE 9123" == mark.text
    assert mark.confidence <= 0.97**4
    assert mark.box is not None
    (left, top), (right, _), (_, bottom), _ = mark.box
    assert (50.0, 85.0, 115.0) == (left, top, bottom)
    assert right > 150.0


@pytest.mark.parametrize(
    ("text", "place", "read", "expected"),
    [
        ("UIAA", 1, "1", ["UIAA"]),
        ("EN 12275", 2, "I", ["EN 12275"]),
        ("EN 362", 4, "8", ["EN 362"]),
        ("NFPA 2500 T", 4, "Z", ["NFPA 2500 T"]),
        ("ANSI Z359.12", 4, "2", ["ANSI Z359.12"]),
    ],
)
def test_one_confused_character_of_a_fixed_word_is_forgiven(
    text: str, place: int, read: str, expected: list[str]
) -> None:
    """The word is known, so I for 1 in UIAA or 2 for Z in Z359 still is that word."""
    glyphs = line(text)
    right = glyphs[place].char
    assert expected == texts(doubt(glyphs, place, read, right))


def test_a_free_digit_read_as_a_letter_needs_the_readers_second_choice() -> None:
    """O for 0 in a CE number counts if the reader thought of 0; else the mark is not whole."""
    thought = doubt(line("CE 9103", confidence=0.99), 4, "O", "0", 0.25)
    assert ["CE 9103"] == texts(thought)
    unthought = [replace(g, alternatives=()) for g in thought]
    assert [] == texts(unthought)


def test_a_mark_of_weak_digits_is_noted_and_not_reported() -> None:
    """Four digits of 0.8 each are right together in four cases of ten only."""
    (span,) = find_spans([line("CE 9123", confidence=0.8)])
    assert span.mark is None
    assert span.note is not None
    assert "CE 9123" in span.note


def test_a_ce_mark_without_four_digits_gets_a_note() -> None:
    """CE 912 is told, not reported."""
    spans = find_spans([line("CE 912")])
    assert [None] == [s.mark for s in spans]
    assert any(s.note and "four-digit" in s.note for s in spans)


def test_a_mark_may_go_on_in_the_next_line() -> None:
    """EN 362 over 2004/B is one mark, with glyphs of both lines."""
    upper, lower = line("EN 362"), line(":2004/B", y=145.0)
    (span,) = find_spans([upper, lower])
    assert span.mark is not None
    assert "EN 362:2004/B" == span.mark.text
    assert {0, 1} == {row for row, _ in span.places}


def test_a_line_elsewhere_is_no_continuation() -> None:
    """Four digits far below a CE are not its number."""
    assert [] == texts(line("CE"), line("9123", y=400.0))
    assert ["CE 9123"] == texts(line("CE"), line("9123", y=145.0))


def test_a_ringed_letter_is_the_class_of_en_12275() -> None:
    """A K in a ring elsewhere on the stamp is the class of the EN 12275 that has none."""
    letter = Glyph("K", 400.0, 200.0, 30.0, 18.0, 0.0, 0.95)
    ring = Glyph("<ring>", 400.0, 200.0, 50.0, 50.0, 0.0, 0.95)
    assert ["EN 12275/K"] == texts(line("EN 12275"), [letter, ring])
    assert ["EN 12275"] == texts(line("EN 12275"), [letter])
    assert ["EN 12275/B"] == texts(line("EN 12275/B"), [letter, ring])


@pytest.mark.parametrize(
    ("text", "serial"),
    [
        ("SN 482716", "482716"),
        ("LOT A42", "A42"),
        ("S/N 12-0042", "12-0042"),
        ("19A04127", "19A04127"),
        ("BATCH 77102", "77102"),
    ],
)
def test_serials_and_lots_are_recognised(text: str, serial: str) -> None:
    """A string behind its word, or a long run of digits and letters."""
    assert serial in [s.serial for s in find_spans([line(text)])]


def test_a_serial_ends_where_a_mark_begins() -> None:
    """Set close together, the mark behind a serial is not swallowed by it."""
    spans = find_spans([line("SN482716CE9123")])
    assert ["482716"] == [s.serial for s in spans if s.serial]
    assert ["CE 9123"] == [s.mark.text for s in spans if s.mark]


@pytest.mark.parametrize("extra", [-4.0, 0.0, 6.0, 9.0])
def test_lines_set_close_or_wide_are_read_alike(extra: float) -> None:
    """The line's own spacing tells what is a space: within a word half a height may lie."""
    wide = [replace(g, x=g.x + k * extra) for k, g in enumerate(line("EN 362:2004/B CE 9123"))]
    assert ["EN 362:2004/B", "CE 9123"] == texts(wide)


@pytest.mark.parametrize(
    ("text", "expected"),
    [("N 362:2004/Q", ["EN 362:2004/Q"]), ("12275:2013", ["EN 12275:2013"]), ("362 2004", [])],
)
def test_a_standard_that_lost_its_first_letters_is_known_by_its_year(
    text: str, expected: list[str]
) -> None:
    """Only with a year of issue we know, behind a colon: a number alone may be anything."""
    assert expected == texts(line(text))


@pytest.mark.parametrize(
    "text", ["27kN 8kN 7kN".upper(), "24/8/9", "24-8-9", "22.5 9.5", "5000LBF", "40 11 12"]
)
def test_figures_are_no_serials_dates_or_marks(text: str) -> None:
    """Strengths are left alone."""
    assert () == find_spans([line(text)])


@pytest.mark.parametrize(
    ("text", "date"),
    [
        ("03/2019", "2019-03"),
        ("2019", "2019"),
        ("2019-11", "2019-11"),
        ("MAR 2021", "2021-03"),
        ("03.22", "2022-03"),
    ],
)
def test_dates_are_recognised(text: str, date: str) -> None:
    """A year, or a month and a year."""
    assert [date] == [s.date for s in find_spans([line(text)])]


def test_the_glyphs_of_every_span_are_its_own() -> None:
    """No glyph belongs to two spans."""
    rows = [line("CE 9123 EN 362:2004/B UIAA"), line("SN 482716 03/2019", y=145.0)]
    places = [p for s in find_spans(rows) for p in s.places]
    assert len(places) == len(set(places))


def test_lines_without_glyphs_give_nothing() -> None:
    """Empty lines are no error."""
    assert () == find_spans([[], []])

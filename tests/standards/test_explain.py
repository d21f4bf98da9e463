"""What is taught: every mark and letter finds its lesson, and texts agree with the tables."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stampreader.errors import UsageError
from stampreader.standards import SOURCES, explain
from stampreader.standards.lessons import LESSONS
from stampreader.standards.tables import ROWS
from stampreader.units import KGF_kN, LBF_kN


@pytest.mark.parametrize("name", sorted({name for lesson in LESSONS for name in lesson.names}))
def test_every_name_finds_its_lesson(name):
    """Each word a lesson is listed under leads to it, in small letters too."""
    titles = {lesson.title for lesson in LESSONS if name in lesson.names}
    assert titles == {lesson.title for lesson in explain(name.lower())}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row.standard} {row.letter}")
def test_every_class_finds_its_row(row):
    """A standard with its class letter is narrowed to that class."""
    (lesson,) = explain(f"{row.standard} {row.letter}".strip())
    if row.letter:
        assert (row,) == lesson.rows
    assert row in lesson.rows


@pytest.mark.parametrize(
    ("letter", "standards"),
    [
        # EN 362:2004 has B, M, T, A, Q; EN 12275:2013 B, H, K, A, T, Q, X and 1998 D; NFPA G, T, E
        # now, P and L before.
        ("B", {"EN 362", "EN 12275"}),
        ("M", {"EN 362"}),
        ("T", {"EN 362", "EN 12275", "NFPA"}),
        ("G", {"NFPA"}),
        ("K", {"EN 12275"}),
        ("class Q", {"EN 362", "EN 12275"}),
    ],
)
def test_a_letter_alone_is_explained_in_every_standard(letter, standards):
    """A class letter alone gives that class of each standard that has it."""
    assert standards == {row.standard for lesson in explain(letter) for row in lesson.rows}


def test_nothing_asked_explains_everything():
    """Without a word all lessons come, and every class of the tables is among them."""
    assert set(ROWS) == {row for lesson in explain() for row in lesson.rows}


@pytest.mark.parametrize("text", ["EN 363", "xyzzy", "Z", "%", "nfpa 1234"])
def test_what_is_unknown_is_refused_with_a_hint(text):
    """An unknown word is refused in one line that names what is known."""
    with pytest.raises(UsageError) as caught:
        explain(text)
    assert "Try " in caught.value.line() and "\n" not in caught.value.line()


@given(st.text(max_size=30))
def test_any_word_is_explained_or_refused(text):
    """Whatever is asked, there is a lesson or one line."""
    try:
        assert explain(text)
    except UsageError as error:
        assert "\n" not in error.line()


def test_every_lesson_has_text_and_named_sources():
    """No lesson is without a text or a source, and every source is used somewhere."""
    used = {key for lesson in LESSONS for key in lesson.sources}
    used |= {demand.source for row in ROWS for demand in row.demands}
    assert set(SOURCES) == used
    assert all(lesson.text and lesson.sources for lesson in LESSONS)


def test_constants_in_the_text_are_those_of_the_program():
    """The conversions printed for learning are the exact ones (NIST SP 811 B.8)."""
    text = " ".join(explain("kN")[0].text)
    assert f"1 lbf is {LBF_kN} kN" in text
    assert f"1 kgf is {KGF_kN} kN" in text


def test_figures_in_the_texts_stand_in_the_tables():
    """Every 'N kN' in the text of a standard's lesson is a minimum of its table."""
    for lesson in LESSONS:
        if lesson.rows:
            minima = {str(demand.kN) for row in lesson.rows for demand in row.demands}
            quoted = set(re.findall(r"([\d.]+) kN", " ".join(lesson.text)))
            assert quoted <= minima

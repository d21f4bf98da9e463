"""Marks put together from two readers: invented lines of glyphs, expected by the rule."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest
from laying import SIZE, lay

from stampreader.figures import Caps, find_stamps, judge
from stampreader.figures.marked import standard_of
from stampreader.marks import find_spans
from stampreader.words import Glyph

FIGURES = lay("{C}27kN {X}8kN {O}7kN", y=1000)


def marks(first: Sequence[Glyph], second: Sequence[Glyph]) -> list[str]:
    """The marks of the only stamp that two readers saw."""
    (draft,) = find_stamps([*FIGURES, *first], SIZE, find_spans)
    stamp = judge(draft, {"line": [*FIGURES, *second]}, Caps())
    return sorted(mark.text for mark in stamp.marks)


def spoilt(text: str, y: float, *places: int) -> list[Glyph]:
    """A line with some of its glyphs taken for a dash, and faintly."""
    return [
        replace(g, char="-", confidence=0.4) if k in places else g
        for k, g in enumerate(lay(text, y=y))
    ]


def test_a_mark_the_second_reader_alone_saw_is_found() -> None:
    """The first reader saw that something is written there, not what."""
    first = spoilt("EN 362:2004/B", 1050, 0, 1, 3, 5)
    assert ["EN 362:2004/B"] == marks(first, lay("EN 362:2004/B", y=1050))


def test_marks_far_from_the_figures_are_shown_to_the_second_reader_too() -> None:
    """What the first one lost in a line elsewhere on the spine, the second one makes good."""
    first = lay("EN 12275", y=1600) + spoilt("CE 9123", 1650, 0, 4)
    second = lay("EN 12275", y=1600) + lay("CE 9123", y=1650)
    assert ["CE 9123", "EN 12275"] == marks(first, second)


def test_marks_far_from_the_figures_stay_where_the_second_reader_saw_none() -> None:
    """A mark seen well by the first reader is not lost beside a second one that saw nothing."""
    assert ["EN 12275"] == marks(lay("EN 12275", y=1600), [])


def test_of_each_standard_one_mark_stays() -> None:
    """The likelier reading of one number stays, not both."""
    first = [
        replace(g, char="8", confidence=0.6, alternatives=(("9", 0.35),)) if k == 2 else g
        for k, g in enumerate(lay("CE 9123", y=1050))
    ]
    assert ["CE 9123"] == marks(first, lay("CE 9123", y=1050))


@pytest.mark.parametrize(
    ("text", "standard"),
    [
        ("CE 9123", "CE"),
        ("UKCA 9123", "UKCA"),
        ("EN 362:2004/B", "EN 362"),
        ("EN 12275/K", "EN 12275"),
        ("GOST R EN 362-2008/A", "GOST R EN 362"),
        ("NFPA 1983 (2017) G", "NFPA 1983"),
        ("ANSI Z359.12-2019", "ANSI Z359"),
        ("AS/NZS 4488.2:2020", "AS/NZS 4488"),
        ("ASTM F1774-17", "ASTM F1774"),
        ("UIAA 121", "UIAA 121"),
        ("UIAA", "UIAA"),
    ],
)
def test_what_a_mark_names(text: str, standard: str) -> None:
    """Numbers of bodies, years, parts and classes do not belong to the name."""
    assert standard == standard_of(text)

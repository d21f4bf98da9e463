from __future__ import annotations

from collections.abc import Sequence

import pytest
from laying import SIZE, lay

from stampreader.figures import features, find_stamps
from stampreader.marks import find_spans
from stampreader.words import Glyph, Slot


def hollow(glyphs: Sequence[Glyph], slot: Slot) -> bool:
    """Whether a slot's figure may have lost a digit."""
    (draft,) = find_stamps(glyphs, SIZE, find_spans)
    return bool(features(draft, {"line": glyphs})[slot]["hollow"])


STAMPS = {
    "pictogram-before": "{C}27kN {X}12kN {O}11kN",
    "pictogram-behind": "27kN{C}  12kN{X}  11kN{O}",
    "without-unit": "{C}27 {X}12 {O}11",
}


@pytest.mark.parametrize("text", STAMPS.values(), ids=STAMPS.keys())
def test_whole_figures_have_no_hole(text: str) -> None:
    """Evenly set figures raise no doubt."""
    glyphs = lay(text)
    assert [False] * 3 == [hollow(glyphs, slot) for slot in Slot]


@pytest.mark.parametrize("slot", list(Slot))
def test_a_lost_first_digit_leaves_a_hole_behind_its_pictogram(slot: Slot) -> None:
    """With a space of its own after each pictogram the room of a digit stands out."""
    glyphs = lay("{C} 27kN {X} 22kN {O} 24kN", space=0.3)
    first = [k for k, g in enumerate(glyphs) if g.char.startswith("<")][list(Slot).index(slot)] + 1
    lost = [g for k, g in enumerate(glyphs) if k != first]
    assert hollow(lost, slot)
    assert [False] * 2 == [hollow(lost, other) for other in Slot if other is not slot]


def test_a_lost_last_digit_leaves_a_hole_before_its_unit() -> None:
    """2 and kN a digit's room apart, where the other figures touch their units."""
    glyphs = lay("{C}27kN {X}12kN {O}11kN")
    lost = [g for k, g in enumerate(glyphs) if k != 2]
    assert hollow(lost, Slot.CLOSED)


def test_a_lost_point_leaves_a_digit_over() -> None:
    """8 and 3 kN with the room of a point between: 8.3 is proposed, and doubted."""
    glyphs = lay("{C}27kN {X}8.3kN {O}11kN")
    point = next(k for k, g in enumerate(glyphs) if g.char == ".")
    spread = [
        g
        if k <= point
        else Glyph(g.char, g.x + 12.0, g.y, g.height_px, g.width_px, 0.0, g.confidence)
        for k, g in enumerate(glyphs)
    ]
    lost = [g for k, g in enumerate(spread) if k != point]
    (draft,) = find_stamps(lost, SIZE, find_spans)
    claim = draft.claim(Slot.CROSS)
    assert claim is not None
    assert "8.3" == claim.number.text
    assert hollow(lost, Slot.CROSS)


def test_a_year_some_way_before_a_figure_raises_no_doubt() -> None:
    """2024 a word's space before 23 kN belongs to itself."""
    glyphs = lay("2024 {C}23kN {X}8kN {O}7kN", space=1.4)
    assert not hollow(glyphs, Slot.CLOSED)

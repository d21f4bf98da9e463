"""What is known of all connectors corrects what was read, and never makes it sure.

Corrections rest on what every stamp obeys (the figure along the spine is the largest, EN 12275:2013
and EN 362:2004 table of minimum strengths, from memory); which digits were misread is invented.
"""

from __future__ import annotations

import pytest
from laying import changed, judged, lay, values, without

from stampreader.words import SLOTS, Doubt, Slot, State


def test_a_reading_that_no_connector_holds_replaces_none_that_one_does() -> None:
    """Where the second reader saw a digit too many, 151 for 11, the first one's 11 stays."""
    first = lay("{C}21 {X}10 {O}11kN")
    second = lay("{C}21 {X}10 {O}151kN")
    stamp = judged(first, second)
    assert ["21", "10", "11"] == values(stamp)
    assert State.ASK is stamp.open.state


@pytest.mark.parametrize(("text", "meant"), [("115", "11.5"), ("105", "10.5")])
def test_three_digits_have_lost_their_point(text: str, meant: str) -> None:
    """Nothing holds 115 kN across: 11.5 is proposed and asked."""
    glyphs = lay(f"{{C}}33kN {{X}}{text}kN {{O}}9kN")
    stamp = judged(glyphs)
    assert ["33", meant, "9"] == values(stamp)
    assert State.ASK is stamp.cross.state
    assert Doubt.WEAK_GLYPH in stamp.cross.doubts


def test_a_figure_in_two_parts_has_lost_its_point() -> None:
    """40 kN, 14 kN and 15 5 kN with the room of a point: 15.5, asked."""
    whole = lay("{C}40kN {X}14kN {O}15.5kN")
    place = next(k for k, g in enumerate(whole) if g.char == ".")
    moved = [g if k < place else changed([g], 0, x=g.x + 12.0)[0] for k, g in enumerate(whole)]
    lost = without(moved, place)
    stamp = judged(lost)
    assert ["40", "14", "15.5"] == values(stamp)
    assert State.ASK is stamp.open.state


def test_a_number_stands_for_one_direction() -> None:
    """The first reader takes the pictogram for cross, both together for closed: 32 once, asked."""
    second = lay("{C}32kN {O}9kN")
    first = changed(second, 0, char="<cross>", confidence=0.6, alternatives=(("<closed>", 0.3),))
    stamp = judged(first, second)
    assert ["32", None, "9"] == values(stamp)
    assert State.ASK is stamp.closed.state


def test_no_open_gate_holds_28_kN() -> None:
    """A lone 28 kN at a pictogram taken for the open gate is proposed as closed, and asked."""
    stamp = judged(lay("{O}28kN"))
    assert ["28", None, None] == values(stamp)
    assert Doubt.SLOT_CONFLICT in stamp.closed.doubts
    assert State.ASK is stamp.closed.state


def test_12_kN_at_the_open_gate_stays_there() -> None:
    """What an open gate may well hold is left where its pictogram has it."""
    assert [None, None, "12"] == values(judged(lay("{O}12kN")))


def test_a_point_seen_twice_is_one_point() -> None:
    """17..4 is 17.4: dots and worn strokes break one point into two."""
    first = lay("{C}20kN {X}17..4kN {O}11kN")
    stamp = judged(first)
    assert "17.4" == str(stamp.figure(Slot.CROSS).kN)


def test_characters_of_the_line_below_stay_out_of_a_figure() -> None:
    """The second reader's small EN 362 below 25.5 kN puts no digit of its own into it."""
    figures = lay("{C}25.5kN {X}20kN {O}8kN", height=40.0)
    below = lay("EN362/M", y=1535.0, height=22.0)
    first = changed(figures, 4, confidence=0.9)
    stamp = judged([*without(first, 5), *below], [*figures, *below])
    assert "25.5" == str(stamp.closed.kN)
    assert all(stamp.figure(slot).kN is not None for slot in SLOTS)

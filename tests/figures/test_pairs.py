from __future__ import annotations

import pytest
from laying import SIZE, lay

from stampreader.figures import find_stamps, judge
from stampreader.marks import find_spans
from stampreader.words import Doubt, Stamp, State


def stamp_of(text: str) -> Stamp:
    """The only stamp of a line of text that two readers saw alike."""
    glyphs = lay(text)
    (draft,) = find_stamps(glyphs, SIZE, find_spans)
    return judge(draft, {"line": glyphs})


# Pairs as ANSI/ASSP Z359.12 prints them (22.2 kN and 5,000 lbf, 16 kN and 3,600 lbf), and others
# from the exact pound-force of NIST SP 811: 1 lbf is 4.4482216152605 N.
@pytest.mark.parametrize(
    "pair",
    [
        "22.2kN 5000LBF",
        "16kN 3600LBF",
        "22kN 5000LBF",
        "40kN 8992LBF",
        "27kN 2753KG",
        "22kN/2200DAN",
    ],
)
def test_a_figure_in_two_units_that_go_together_stays_sure(pair: str) -> None:
    """The pair is one figure; nothing is left to enter by hand."""
    stamp = stamp_of("{C}" + pair)
    assert (State.SURE, ()) == (stamp.closed.state, stamp.notes)


@pytest.mark.parametrize("pair", ["22kN 3600LBF", "27kN 5000LBF", "27kN 2200KG"])
def test_a_figure_in_two_units_that_contradict_is_asked(pair: str) -> None:
    """One of the two was misread, or the stamp is wrong: a person must look."""
    stamp = stamp_of("{C}" + pair)
    assert State.ASK is stamp.closed.state
    assert Doubt.TWO_VALUES in stamp.closed.doubts
    assert any("do not go together" in note for note in stamp.notes)


def test_a_number_in_pounds_elsewhere_is_told_by_itself() -> None:
    """Pounds far from the figure are not its companion."""
    stamp = stamp_of("{C}27kN UIAA 3600LBF")
    assert State.SURE is stamp.closed.state
    assert any("3600 lbf" in note for note in stamp.notes)

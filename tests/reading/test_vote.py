"""Figures of several looks put to the vote: agreement, rivals, lone looks, nothing sure."""

from decimal import Decimal

import pytest

from stampreader.reading.vote import put_to_vote, the_fullest
from stampreader.words import NOTHING, Doubt, Figure, Mark, Stamp, State


def seen(closed=None, cross=None, open_=None, confidence=0.4, **more):
    """A stamp with these figures, all asked about."""
    figures = [
        NOTHING if kN is None else Figure(Decimal(kN), State.ASK, confidence)
        for kN in (closed, cross, open_)
    ]
    return Stamp(*figures, **more)


def test_two_looks_make_a_figure():
    """A value that two looks half see is proposed, with more confidence than either."""
    found = put_to_vote(None, [seen("27"), seen("27")])
    assert Decimal(27) == found.closed.kN
    assert 0.4 < found.closed.confidence < 1 - 0.6 * 0.6


def test_nothing_is_ever_sure():
    """However many looks are sure, a stack asks."""
    look = Stamp(closed=Figure(Decimal(27), State.SURE, 0.99))
    found = put_to_vote(look, [look] * 8)
    assert State.ASK is found.closed.state
    assert found.closed.confidence < 1


def test_a_rival_is_told_and_costs_confidence():
    """A second value with many votes is named as a doubt and lowers the first."""
    alone = put_to_vote(None, [seen("27")] * 3).closed
    split = put_to_vote(None, [*[seen("27")] * 3, *[seen("21")] * 2]).closed
    assert Decimal(27) == split.kN
    assert Doubt.TWO_VALUES in split.doubts
    assert split.confidence < alone.confidence


def test_one_faint_look_among_many_proposes_nothing():
    """A value on one look alone needs confidence, or other figures beside it."""
    others = [seen("27"), seen("27")]
    assert put_to_vote(None, [*others, seen(cross="8", confidence=0.3)]).cross.kN is None
    assert Decimal(8) == put_to_vote(None, [*others, seen(cross="8", confidence=0.6)]).cross.kN
    fellow = seen("27", "8", confidence=0.3)
    assert Decimal(8) == put_to_vote(None, [*others, fellow]).cross.kN


@pytest.mark.parametrize("kN", ["1", "112"])
def test_what_no_connector_is_stamped_with_gets_no_vote(kN):
    """Strengths outside the range of connectors are never proposed from a stack."""
    assert put_to_vote(None, [seen(kN, confidence=0.9)] * 5).closed.kN is None


def test_marks_need_two_looks_or_all_together():
    """A mark on one look alone is grain; one of two looks, or of all together, stays."""
    ce, uiaa = Mark("CE 9123", 0.9), Mark("UIAA", 0.9)
    looks = [seen("27", marks=(ce, uiaa)), seen("27", marks=(ce,))]
    assert ("CE 9123",) == tuple(m.text for m in put_to_vote(seen("27"), looks).marks)
    assert "UIAA" in {m.text for m in put_to_vote(seen("27", marks=(uiaa,)), looks).marks}


def test_no_look_gives_nothing():
    """Nothing seen by any look is no stamp."""
    assert put_to_vote(None, []) is None
    assert the_fullest([]) is None

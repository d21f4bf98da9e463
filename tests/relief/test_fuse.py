"""Fusing glyphs of several looks: positions, characters, justified confidence."""

from dataclasses import replace

import pytest

from stampreader.relief import effective, fuse_looks
from stampreader.words import Glyph


def glyph(char, x=100.0, confidence=0.5, **more):
    """A glyph on a level line."""
    return Glyph(char, x, 50.0, 30.0, 18.0, 0.0, confidence, **more)


@pytest.mark.parametrize(("count", "worth"), [(1, 1.0), (2, 4 / 3), (3, 1.5), (6, 12 / 7)])
def test_effective_number(count, worth):
    """Kish 1965, section 5.4: n / (1 + (n - 1) r) with r = 0.5."""
    assert worth == pytest.approx(effective(count))


def test_half_seen_twice_is_one_reading():
    """A glyph half seen on two shots becomes one, more certain than each and less than a product."""
    (found,) = fuse_looks([[glyph("8")], [glyph("8", 101.0)], []], "net")
    assert ("8", "net") == (found.char, found.reader)
    assert 100.5 == pytest.approx(found.x)
    assert 0.5 < found.confidence < 1 - 0.5 * 0.5


def test_the_likelier_character_wins_and_the_other_is_kept():
    """Three looks of 8 against one of 3: 8, with 3 among the alternatives."""
    looks = [[glyph("8", confidence=0.7)]] * 3 + [[glyph("3", confidence=0.6)]]
    (found,) = fuse_looks(looks, "net")
    assert "8" == found.char
    assert "3" in dict(found.alternatives)


def test_disagreement_lowers_confidence():
    """A glyph read differently by half of the looks is less certain than one read alike."""
    alike = fuse_looks([[glyph("7", confidence=0.8)]] * 4, "net")[0].confidence
    split = [[glyph("7", confidence=0.8)], [glyph("1", confidence=0.8)]] * 2
    assert fuse_looks(split, "net")[0].confidence < 0.6 * alike


def test_a_faint_glyph_of_one_look_among_many_is_dropped():
    """What one look of six shows faintly is grain; what it shows clearly stays, less certain."""
    assert () == fuse_looks([[glyph("4", confidence=0.4)], [], [], [], [], []], "net")
    (kept,) = fuse_looks([[glyph("4", confidence=0.9)], [], [], [], [], []], "net")
    assert kept.confidence < 0.9


def test_neighbours_stay_apart():
    """Two digits side by side are not taken for one place."""
    look = [glyph("2", 100.0, 0.9), glyph("7", 121.0, 0.9)]
    assert ["2", "7"] == [
        g.char for g in sorted(fuse_looks([look, look], "net"), key=lambda g: g.x)
    ]


def test_upside_down_readings_compete():
    """A place read one way by three looks and upside down by one gives the three's reading."""
    up = glyph("6", confidence=0.8)
    down = replace(glyph("9", confidence=0.8), angle_deg=180.0)
    (found,) = fuse_looks([[up], [up], [up], [down]], "net")
    assert ("6", 0.0) == (found.char, found.angle_deg)


def test_no_look_and_empty_looks():
    """Nothing seen gives nothing."""
    assert () == fuse_looks([], "net")
    assert () == fuse_looks([[], [], []], "net")


def test_never_certain():
    """However many looks agree, no glyph is certain."""
    assert fuse_looks([[glyph("8", confidence=1.0)]] * 12, "net")[0].confidence < 1.0

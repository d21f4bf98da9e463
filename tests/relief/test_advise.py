"""What the next shot should be, from lamps whose places are known."""

import pytest

from stampreader.relief import Lamp, next_shot


def lamps(*angles, known=True):
    """Lamps at these angles."""
    return [Lamp(float(a), known) for a in angles]


@pytest.mark.parametrize(
    ("angles", "side"),
    [
        ((0, 60, 300), "from the left"),
        ((90, 135, 45), "from the top"),
        ((180, 225, 270), "from the bottom right"),
    ],
)
def test_the_missing_side_is_named(angles, side):
    """The middle of the widest gap between the lamps is asked for (angles by hand)."""
    assert side in next_shot(lamps(*angles), True)


def test_an_unknown_side_is_said_so():
    """Where the sign is open, both sides are named."""
    assert "left or right" in next_shot(lamps(0, 60, 300, known=False), True)


def test_all_round_asks_for_a_lower_lamp():
    """With lamps all round, a lower lamp is advised."""
    assert "lower" in next_shot(lamps(0, 60, 120, 180, 240, 300), True)


def test_nothing_in_doubt_needs_no_advice():
    """A clear reading gets no advice."""
    assert "" == next_shot(lamps(0, 60, 120), False)

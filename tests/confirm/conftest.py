"""Short ways to make stamps and arrivals."""

from decimal import Decimal

import pytest

from stampreader.words import Arrival, Doubt, Figure, Mark, Sighting, Stamp, State


def one_figure(told):
    """A figure from a value (sure), `None`, or (value, state, doubts...)."""
    if told is None:
        return Figure()
    value, state, *doubts = told if isinstance(told, tuple) else (told, "sure")
    kN = None if value is None else Decimal(str(value))
    confidence = {"sure": 0.99, "ask": 0.6, "none": 0.0}[state]
    return Figure(kN, State(state), confidence, doubts=tuple(Doubt[name] for name in doubts))


@pytest.fixture
def stamp():
    """Makes a stamp."""

    def made(closed=27, cross=8, open=7, marks=("CE 9123",), serial=None):
        return Stamp(
            one_figure(closed),
            one_figure(cross),
            one_figure(open),
            tuple(Mark(text) for text in marks),
            serial=serial,
        )

    return made


@pytest.fixture
def arrival(stamp):
    """Makes an arrival with one photo of this stamp."""

    def made(key, *, label=None, delivery="Spring", **told):
        seen = Sighting(f"{key:064x}", 0, stamp(**told), "tests 1", None, f"{key}.jpg")
        return Arrival(key, delivery, label, (seen,))

    return made

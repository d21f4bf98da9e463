"""A fresh register, and short ways to put things into it."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from stampreader.register import (
    Crop,
    Kind,
    add_arrival,
    keep_reading,
    open_register,
    waiting,
)
from stampreader.words import Doubt, Figure, Mark, Reading, Sighting, Stamp, State

START = datetime(2025, 3, 1, 12, tzinfo=UTC)


class Clock:
    """A clock that goes on by a second at each look."""

    def __init__(self, start=START):
        self.time = start

    def __call__(self):
        """The next second."""
        self.time += timedelta(seconds=1)
        return self.time


@pytest.fixture
def clock():
    """A clock that starts on 1 March 2025."""
    return Clock()


@pytest.fixture
def register(tmp_path):
    """A fresh register."""
    with open_register(tmp_path / "register.sqlite", create=True) as book:
        yield book


@pytest.fixture
def enter(clock):
    """Enters a connector by an event; gives its key."""

    def entered(register, id="C-0001", **fields):
        body = {"fields": {"id": id, "closed_kN": "27", **fields}, "by_hand": True}
        return register.record(Kind.REGISTERED, None, body, who="Ada", at=clock()).connector

    return entered


@pytest.fixture
def record(clock):
    """Records a life event."""

    def recorded(register, kind, uid, happened_on=None, **body):
        return register.record(kind, uid, body, who="Ada", at=clock(), happened_on=happened_on)

    return recorded


def figure(value, state=State.SURE, *doubts):
    """A figure as read."""
    kN = None if value is None else Decimal(str(value))
    return Figure(kN, state, 0.9876, doubts=tuple(doubts))


@pytest.fixture
def stamp():
    """Makes a stamp of three figures and marks."""

    def made(closed=27, cross=8, open=7, marks=("CE 9123",), serial=None):
        return Stamp(
            figure(closed),
            figure(cross),
            figure(open, State.ASK, Doubt.ONE_READER),
            tuple(Mark(text, 0.9, ((0, 0), (1, 0), (1, 1), (0, 1))) for text in marks),
            serial=serial,
        )

    return made


@pytest.fixture
def arrive(clock, stamp):
    """Puts connectors on the list of arrivals, each with its photo; gives them as waiting."""

    def arrived(register, count=1, delivery="Spring", first=0, label=None, **kwargs):
        keys = []
        for number in range(first, first + count):
            sha = f"{number:064x}"
            read = stamp(**kwargs)
            reading = Reading(f"in/{number}.jpg", sha, (640, 480), (read,), readers=("tests 1",))
            crop = Crop(sha, 0, "image/jpeg", b"picture %d" % number)
            keep_reading(register, reading, [crop], at=clock())
            seen = Sighting(sha, 0, read, "tests 1", crop.sha256, f"in/{number}.jpg")
            keys.append(add_arrival(register, delivery, [seen], at=clock(), label=label))
        return waiting(register, keys=keys)

    return arrived

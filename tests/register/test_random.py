"""Whatever people do in whatever order: the register stays whole and nothing is lost or doubled."""

import tempfile
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from stampreader.errors import StampError
from stampreader.register import (
    Crop,
    Filter,
    Kind,
    Life,
    add_arrival,
    add_by_hand,
    check_register,
    confirm_arrivals,
    correct_entry,
    keep_reading,
    list_connectors,
    open_register,
    set_aside,
    undo_last,
    waiting,
)
from stampreader.words import Figure, Reading, Sighting, Stamp, State

PHOTOS = 6
KINDS = [Kind.PUT_IN_SERVICE, Kind.MOVED, Kind.QUARANTINED, Kind.RELEASED, Kind.LOST, Kind.RETIRED]
STEPS = st.lists(
    st.tuples(
        st.sampled_from(["confirm", "undo", "set aside", "by hand", "correct", "life", "reopen"]),
        st.integers(0, 5),
    ),
    max_size=15,
)


class Team:
    """People working on one register."""

    def __init__(self, path):
        self.path = path
        self.time = datetime(2025, 3, 1, tzinfo=UTC)
        self.register = open_register(path, create=True)
        stamp = Stamp(Figure(Decimal(27), State.SURE, 0.99))
        for number in range(PHOTOS):
            sha = f"{number:064x}"
            reading = Reading(f"{number}.jpg", sha, (9, 9), (stamp,), readers=("tests 1",))
            crop = Crop(sha, 0, "image/jpeg", b"%d" % number)
            keep_reading(self.register, reading, [crop], at=self.now())
            seen = Sighting(sha, 0, stamp, "tests 1", crop.sha256, f"{number}.jpg")
            add_arrival(self.register, "Spring", [seen], at=self.now())

    def now(self):
        """The next minute."""
        self.time += timedelta(minutes=1)
        return self.time

    def does(self, step, number):
        """One step of one person; some are refused."""
        register, told = self.register, {"who": "Ada", "at": self.now()}
        left, live = waiting(register), list_connectors(register)
        if step == "confirm":
            confirm_arrivals(register, [(a, {"closed_kN": "27"}) for a in left[:number]], **told)
        elif step == "undo":
            undo_last(register, **told)
        elif step == "set aside" and left:
            set_aside(register, left[:1], reason="", **told)
        elif step == "by hand":
            add_by_hand(register, {"closed_kN": "22"}, **told)
        elif step == "correct" and live:
            correct_entry(
                register, live[number % len(live)], {"maker": f"M{number}"}, why="", **told
            )
        elif step == "life" and live:
            register.record(KINDS[number], live[number % len(live)].uid, {"place": "Kit"}, **told)
        elif step == "reopen":
            register.close()
            self.register = open_register(self.path)


@given(STEPS)
@settings(max_examples=40, deadline=None)
def test_the_register_stays_whole(steps):
    """After any steps the check finds nothing, and each photo is in exactly one place."""
    with tempfile.TemporaryDirectory() as folder:
        team = Team(Path(folder) / "register.sqlite")
        for step, number in steps:
            try:
                team.does(step, number)
            except StampError as error:
                assert "\n" not in error.line()
        register = team.register
        assert [] == list(check_register(register))
        entered = [c for c in list_connectors(register) if not c.by_hand]
        aside = register.rows("SELECT count(*) AS n FROM arrivals WHERE status = 'set-aside'")
        assert PHOTOS == len(entered) + len(waiting(register)) + aside[0]["n"]
        ids = [c.id for c in list_connectors(register)]
        assert len(ids) == len(set(ids))
        everyone = list_connectors(register, Filter(life=tuple(Life)))
        assert len(everyone) == len({c.uid for c in everyone})
        register.close()

"""Makes a small register with a bit of everything, to be kept as a register of its time.

    python tests/register/golden_register.py tests/golden/register-after-step-1.sqlite

A file made by a released version is never made again: it shows that later versions open it.
"""

import sys
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

from stampreader.register import (
    Crop,
    Kind,
    add_arrival,
    add_by_hand,
    change_setting,
    confirm_arrivals,
    correct_entry,
    find_connector,
    keep_order,
    keep_reading,
    open_register,
    set_aside,
    undo_last,
    waiting,
)
from stampreader.words import Doubt, Figure, Mark, Reading, Sighting, Stamp, State

START = datetime(2025, 3, 1, 12, tzinfo=UTC)


def fill(path):
    """Six photos: three entered, one undone, one set aside, two waiting; one entry by hand."""
    minutes = iter(range(10_000))

    def at():
        return START + timedelta(minutes=next(minutes))

    with open_register(path, create=True) as register:
        change_setting(register, "ratio", "15", who="Ada Quell", at=at())
        keep_order(
            register, "Spring", [{"count": 6, "maker": "Felsnase"}], who="Ada Quell", at=at()
        )
        arrivals = [arrive(register, number, at) for number in range(6)]
        fields = {"closed_kN": "27", "cross_kN": "8", "open_kN": "7", "marks": ["CE 9123"]}
        confirm_arrivals(register, [(a, fields) for a in arrivals[:2]], who="Ada Quell", at=at())
        confirm_arrivals(register, [(arrivals[2], fields)], who="Ada Quell", at=at())
        undo_last(register, who="Ada Quell", at=at())
        set_aside(register, [arrivals[3]], reason="a key ring", who="Ada Quell", at=at())
        add_by_hand(register, {"closed_kN": "22", "maker": "Steilhang"}, who="Ben Firn", at=at())
        first = find_connector(register, "C-0001")
        correct_entry(register, first, {"serial": "A1"}, why="seen later", who="Ben Firn", at=at())
        for kind, body in (
            (Kind.PUT_IN_SERVICE, {"place": "Kit 1"}),
            (Kind.INSPECTED, {"result": "pass"}),
            (Kind.QUARANTINED, {"reason": "dropped"}),
        ):
            register.record(kind, first.uid, body, who="Ada Quell", at=at())


def arrive(register, number, at):
    """One photo with its reading and crop, on the list of arrivals."""
    stamp = Stamp(
        Figure(Decimal(27), State.SURE, 0.99, ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))),
        Figure(Decimal(8), State.SURE, 0.98),
        Figure(Decimal(7), State.ASK, 0.7, doubts=(Doubt.ONE_READER,)),
        (Mark("CE 9123"),),
    )
    sha256 = f"{number:064x}"
    reading = Reading(f"{number}.jpg", sha256, (640, 480), (stamp,), readers=("golden 1",))
    crop = Crop(sha256, 0, "image/jpeg", b"picture %d" % number)
    keep_reading(register, reading, [crop], at=at())
    seen = Sighting(sha256, 0, stamp, "golden 1", crop.sha256, f"{number}.jpg")
    key = add_arrival(register, "Spring", [seen], at=at())
    return waiting(register, keys=[key])[0]


if __name__ == "__main__":
    fill(Path(sys.argv[1]))

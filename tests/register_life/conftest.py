"""A fresh register on a fixed day, and short ways to fill it."""

from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta

import pytest

from stampreader.register import (
    Inspection,
    Point,
    Result,
    add_by_hand,
    find_connector,
    open_register,
    put_in_service,
    record_inspections,
)

START = datetime(2025, 6, 1, 12, tzinfo=UTC)


class Shelf:
    """A register with a clock that goes on by a second at each look."""

    def __init__(self, book):
        self.book = book
        self.time = START
        self.today = date(2025, 6, 1)

    def now(self):
        """The next second."""
        self.time += timedelta(seconds=1)
        return self.time

    def told(self, on=None, **more):
        """What every step is told: who and when."""
        return {"who": "Ada", "at": self.now(), **({"on": on} if on else {}), **more}

    def enter(self, id, in_service=None, place="", **fields):
        """Enter a connector, and put it in service on a day if one is given."""
        fields = {"closed_kN": "27", "marks": ["CE 9123"], **fields, "id": id}
        add_by_hand(self.book, fields, who="Ada", at=self.now())
        if in_service:
            put_in_service(self.book, [self.get(id)], place=place, **self.told(in_service))
        return self.get(id)

    def get(self, id):
        """A connector as it is now."""
        return find_connector(self.book, id)

    def inspect(self, id, result="pass", on=None, point="body: no cracks", note=""):
        """Inspect a connector at one point."""
        found = Inspection([Point(point, Result(result), note)], {})
        return record_inspections(self.book, [(self.get(id), found)], **self.told(on))

    def events(self):
        """How many events the register holds."""
        return self.book.rows("SELECT count(*) AS n FROM events")[0]["n"]


@pytest.fixture
def shelf(tmp_path):
    """A register in a new file."""
    with open_register(tmp_path / "register.sqlite", create=True) as book:
        yield Shelf(book)


@pytest.fixture
def fresh(tmp_path_factory):
    """Makes one new register after the other, for tests that try many cases."""

    @contextmanager
    def made():
        path = tmp_path_factory.mktemp("fresh") / "register.sqlite"
        with open_register(path, create=True) as book:
            yield Shelf(book)

    return made

"""Registers of earlier versions, kept as they were written, are opened and brought up to date."""

import shutil
from decimal import Decimal
from pathlib import Path

import pytest

from stampreader.register import (
    Life,
    check_register,
    find_connector,
    list_connectors,
    open_register,
    read_settings,
    waiting,
)
from stampreader.register.dump import fresh_schema, schema_text

GOLDEN = sorted((Path(__file__).parents[1] / "golden").glob("register-*.sqlite"))


def test_old_registers_are_kept():
    """There is at least one register of an earlier version to try."""
    assert GOLDEN


@pytest.fixture(params=GOLDEN, ids=lambda path: path.stem)
def old(request, tmp_path):
    """A copy of an old register, opened."""
    copy = tmp_path / "old.sqlite"
    shutil.copy(request.param, copy)
    with open_register(copy) as register:
        yield register


def test_everything_is_still_there(old):
    """Connectors, state, history, arrivals, settings and evidence are as they were written."""
    assert ["C-0001", "C-0002", "C-0003"] == [c.id for c in list_connectors(old)]
    first = find_connector(old, "C-0001")
    assert (Life.QUARANTINED, "Kit 1", "A1") == (first.life, first.place, first.serial)
    assert (Decimal(27), Decimal(8), Decimal(7)) == (first.closed_kN, first.cross_kN, first.open_kN)
    kinds = [event.kind for event in old.history(first.uid)]
    assert ["registered", "corrected", "put-in-service", "inspected", "quarantined"] == kinds
    assert find_connector(old, "C-0003").by_hand
    assert 3 == len(waiting(old))
    assert Decimal(15) == read_settings(old).ratio


def test_it_is_whole(old):
    """The chain of the history and the state worked out from it hold."""
    assert [] == list(check_register(old))


def test_it_has_the_shape_of_a_fresh_one(old):
    """Brought up to date it has the same tables, indexes and triggers as a register begun today."""
    assert sorted(fresh_schema().split(";\n")) == sorted(schema_text(old).split(";\n"))

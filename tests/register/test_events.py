"""Events: canonical text, hashes, the common order."""

import hashlib
import json
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stampreader.register.events import (
    Event,
    Kind,
    canonical,
    hash_of,
    next_turn,
    sealed,
    stamp_time,
)

EVENT = Event(
    station="abcd2345",
    number=2,
    kind=Kind.MOVED,
    connector="abcd2345-1",
    after=("abcd2345-1",),
    happened_on="2025-03-01",
    at="2025-03-01T12:00:00.000000Z",
    turn="2025-03-01T12:00:00.000000Z",
    who="Zoë",
    body={"place": "Kit 1"},
    previous="ff",
)

BY_HAND = (
    '{"after":["abcd2345-1"],"at":"2025-03-01T12:00:00.000000Z","body":{"place":"Kit 1"},'
    '"connector":"abcd2345-1","happened_on":"2025-03-01","kind":"moved","number":2,'
    '"previous":"ff","station":"abcd2345","turn":"2025-03-01T12:00:00.000000Z","who":"Zoë"}'
)
"""The event's canonical text, written by hand after RFC 8785, section 3.2."""

JSON_VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53) + 1, 2**53 - 1)
    | st.text(st.characters(exclude_categories=["Cs"])),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(st.characters(codec="ascii")), inner),
    max_leaves=20,
)


def test_the_hash_is_that_of_the_canonical_text():
    """The hash is SHA-256 (FIPS 180-4) over the canonical text, so that anyone can check it."""
    assert hashlib.sha256(BY_HAND.encode()).hexdigest() == hash_of(EVENT)
    assert hash_of(EVENT) == sealed(EVENT).hash


def test_canonical_text_follows_rfc_8785():
    """Sorting and escaping as in RFC 8785, section 3.2.2 and 3.2.3 (values without fractions)."""
    value = {
        "string": '€$\u000f\nA\'B"\\\\"/',
        "literals": [None, True, False],
        "peach": "This sorting order",
    }
    expected = (
        '{"literals":[null,true,false],"peach":"This sorting order",'
        '"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    )
    assert expected == canonical(value)


@given(st.dictionaries(st.text(st.characters(codec="ascii")), JSON_VALUES))
def test_canonical_text_keeps_the_value_and_ignores_the_order(value):
    """Reading the text gives the value back, and the order of the keys does not matter."""
    assert value == json.loads(canonical(value))
    turned = dict(reversed(list(value.items())))
    assert canonical(value) == canonical(turned)


@pytest.mark.parametrize("value", [1.5, {"a": [0.1]}, {1: "a"}], ids=["float", "inside", "key"])
def test_values_without_one_form_are_refused(value):
    """Fractions are written differently by different programs, so they are stored as text."""
    with pytest.raises(TypeError):
        canonical(value)


@pytest.mark.parametrize("name", ["station", "who", "body", "previous", "at", "happened_on"])
def test_every_part_counts(name):
    """A change in any part of an event changes its hash."""
    from dataclasses import replace

    other = {"body": {"place": "Kit 2"}}.get(name, "other")
    assert hash_of(EVENT) != hash_of(replace(EVENT, **{name: other}))


def test_times_are_stored_in_utc():
    """A moment from another time zone is stored as the same moment in UTC."""
    moment = datetime(2025, 3, 1, 13, tzinfo=timezone(timedelta(hours=1)))
    assert "2025-03-01T12:00:00.000000Z" == stamp_time(moment)


@given(st.lists(st.datetimes(datetime(1990, 1, 1), datetime(2090, 1, 1)), min_size=2))
def test_turns_always_rise(moments):
    """Whatever the clock does, each turn comes after the one before."""
    latest = None
    for moment in moments:
        turn = next_turn(stamp_time(moment.replace(tzinfo=UTC)), latest)
        assert latest is None or turn > latest
        latest = turn

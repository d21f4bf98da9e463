"""Links open once and for a while; sessions end by time, by silence, and by being revoked."""

import hmac
from datetime import UTC, datetime, timedelta

import pytest

from stampreader.web import keys
from stampreader.web.keys import Keyring, Terms

START = datetime(2025, 3, 1, 12, tzinfo=UTC)
SHORT = Terms(timedelta(minutes=10), timedelta(hours=3), timedelta(minutes=45), may_confirm=False)


class Hand:
    """A clock moved by hand."""

    def __init__(self):
        self.now = START

    def __call__(self):
        """The time it is set to."""
        return self.now

    def on(self, **by):
        """Move it."""
        self.now += timedelta(**by)


@pytest.fixture
def clock():
    """A clock moved by hand."""
    return Hand()


@pytest.fixture
def ring(clock):
    """The keys of a phone."""
    return Keyring(clock, SHORT)


def test_a_link_opens_once(ring):
    """The second time it opens nothing."""
    key = ring.link().key
    assert ring.redeem(key, "phone")
    assert ring.redeem(key, "phone") is None


def test_a_link_is_shown_again_until_it_was_used(ring):
    """Terminal and page show the same link; only after its use there is another."""
    first = ring.link().key
    assert first == ring.link().key
    ring.redeem(first, "phone")
    assert first != ring.link().key


@pytest.mark.parametrize(
    ("minutes", "opens"),
    [(9, True), (10, False), (60, False)],
    ids=["in time", "late", "very late"],
)
def test_a_link_opens_for_ten_minutes(ring, clock, minutes, opens):
    """A link that was not opened in time opens no more."""
    key = ring.link().key
    clock.on(minutes=minutes)
    assert opens == (ring.redeem(key, "phone") is not None)


def test_a_link_nearly_over_is_replaced(ring, clock):
    """Nobody is shown a link with less than a minute left; the old one then opens no more."""
    old = ring.link().key
    clock.on(minutes=9, seconds=10)
    assert old != ring.link().key
    assert ring.redeem(old, "phone") is None


def test_a_session_ends_after_its_time_however_busy(ring, clock):
    """Three hours after it came in a phone has to scan again, even if it was never silent."""
    own = ring.redeem(ring.link().key, "phone")
    for _ in range(8):
        clock.on(minutes=22)
        assert ring.session(own)
    clock.on(minutes=22)
    assert ring.session(own) is None
    assert [] == ring.sessions()


def test_a_session_ends_by_silence(ring, clock):
    """Three quarters of an hour without a request end it."""
    own = ring.redeem(ring.link().key, "phone")
    clock.on(minutes=44)
    assert ring.session(own)
    clock.on(minutes=45)
    assert ring.session(own) is None


def test_a_clock_set_back_ends_sessions(ring, clock):
    """A clock that was set back never makes a key hold longer."""
    own = ring.redeem(ring.link().key, "phone")
    clock.on(minutes=-1)
    assert ring.session(own) is None


def test_one_is_revoked_and_the_other_stays(ring):
    """Revoking by number ends that session only."""
    one = ring.redeem(ring.link().key, "one")
    two = ring.redeem(ring.link().key, "two")
    assert ring.revoke(ring.session(one).number)
    assert ring.session(one) is None
    assert "two" == ring.session(two).name
    assert not ring.revoke(99)


def test_all_are_revoked_with_the_link(ring):
    """Revoking all ends every session and the link that is shown."""
    link = ring.link().key
    own = ring.redeem(link, "phone")
    shown = ring.link().key
    ring.revoke_all()
    assert ring.session(own) is None
    assert ring.redeem(shown, "phone") is None


def test_the_laptop_stays_as_long_as_the_program(clock):
    """At the laptop itself neither link nor session end by time."""
    ring = Keyring(clock, Terms())
    link = ring.link()
    clock.on(days=3)
    own = ring.redeem(link.key, "laptop")
    clock.on(days=30)
    assert ring.session(own).may_confirm


@pytest.mark.parametrize("key", ["", "x", "\ud800", "é" * 50, "a" * 100_000])
def test_odd_keys_are_only_wrong(ring, key):
    """Whatever is given as a key is compared, never a fault."""
    ring.redeem(ring.link().key, "phone")
    assert ring.session(key) is None
    assert ring.redeem(key, "phone") is None


def test_every_key_is_compared_in_constant_time(ring, monkeypatch):
    """Each known key is compared by `hmac.compare_digest`, also after one was found."""
    owns = [ring.redeem(ring.link().key, str(n)) for n in range(3)]
    calls = []

    def counted(a, b):
        calls.append((len(a), len(b)))
        return real(a, b)

    real = hmac.compare_digest
    monkeypatch.setattr(keys.hmac, "compare_digest", counted)
    assert ring.session(owns[0])
    assert [(32, 32)] * 3 == calls


def test_keys_cannot_be_guessed(ring):
    """A key has 256 bits of chance (the module `secrets`), and none comes twice."""
    made = {ring.redeem(ring.link().key, "phone") for _ in range(200)}
    assert 200 == len(made)
    assert {43} == {len(key) for key in made}

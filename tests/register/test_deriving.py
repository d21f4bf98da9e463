"""What a connector is, worked out from its events: states, stations apart, any order."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stampreader.register.conflicts import heads
from stampreader.register.deriving import derive
from stampreader.register.events import Event, Kind
from stampreader.register.steps import ALLOWED, Life, refusal


class Log:
    """Histories of one connector as stations write them, without a database."""

    def __init__(self):
        self.events = []
        self.tick = 0

    def add(self, kind, station="aa", known=None, day="2025-03-01", **body):
        """Record an event that comes after those known (all, unless told otherwise)."""
        self.tick += 1
        before = self.events if known is None else known
        number = 1 + sum(e.station == station for e in self.events)
        moment = f"2025-03-01T12:00:00.{self.tick:06d}Z"
        event = Event(
            station=station,
            number=number,
            kind=kind,
            connector="aa-1",
            after=heads(before),
            happened_on=day,
            at=moment,
            turn=moment,
            who={"aa": "Ada", "bb": "Ben"}[station],
            body=body,
            previous="",
        )
        self.events.append(event)
        return event


@pytest.fixture
def log():
    """A connector just registered."""
    history = Log()
    history.add(Kind.REGISTERED, fields={"id": "C-1", "closed_kN": "27", "marks": ["CE 9123"]})
    return history


def test_a_registered_connector(log):
    """The entry's fields are there, figures as decimals just as stamped."""
    connector = derive(log.events)
    assert Life.REGISTERED is connector.life
    assert ("C-1", Decimal("27"), ("CE 9123",)) == (
        connector.id,
        connector.closed_kN,
        connector.marks,
    )
    assert connector.cross_kN is None


STORIES = {
    "put in service": ([("put-in-service", {})], Life.IN_SERVICE),
    "moved keeps the state": ([("moved", {"place": "Kit 2"})], Life.REGISTERED),
    "passed inspection keeps the state": ([("inspected", {"result": "pass"})], Life.REGISTERED),
    "failed inspection": (
        [("put-in-service", {}), ("inspected", {"result": "fail"})],
        Life.QUARANTINED,
    ),
    "pass does not release": (
        [("quarantined", {"reason": "dropped"}), ("inspected", {"result": "pass"})],
        Life.QUARANTINED,
    ),
    "released to service": (
        [("put-in-service", {}), ("quarantined", {}), ("released", {})],
        Life.IN_SERVICE,
    ),
    "released to the shelf": ([("quarantined", {}), ("released", {})], Life.REGISTERED),
    "lost": ([("put-in-service", {}), ("lost", {})], Life.LOST),
    "found is not trusted": (
        [("put-in-service", {}), ("lost", {}), ("found", {})],
        Life.QUARANTINED,
    ),
    "retired is for good": ([("retired", {}), ("found", {}), ("released", {})], Life.RETIRED),
    "withdrawn is for good": ([("withdrawn", {}), ("put-in-service", {})], Life.WITHDRAWN),
}


@pytest.mark.parametrize(("steps", "life"), STORIES.values(), ids=STORIES)
def test_stories(log, steps, life):
    """Each story ends in its state."""
    for kind, body in steps:
        log.add(Kind(kind), **body)
    assert life is derive(log.events).life


def test_the_place_is_the_last_one_named(log):
    """Any event may say where the connector was put."""
    log.add(Kind.PUT_IN_SERVICE, place="Kit 1")
    log.add(Kind.MOVED, place="Store")
    assert "Store" == derive(log.events).place


def test_the_interval_counts_from_the_latest_pass(log):
    """Registered, put in service, then passed: each moves the day the interval counts from."""
    assert "2025-03-01" == derive(log.events).due_from_on
    log.add(Kind.PUT_IN_SERVICE, day="2025-04-01")
    assert "2025-04-01" == derive(log.events).due_from_on
    log.add(Kind.INSPECTED, day="2025-06-01", result="pass")
    log.add(Kind.INSPECTED, day="2025-05-01", result="pass")
    log.add(Kind.INSPECTED, day="2025-07-01", result="fail")
    assert "2025-06-01" == derive(log.events).due_from_on


def test_a_correction_replaces_and_clears(log):
    """A corrected field takes the new value; `None` makes a figure unknown."""
    log.add(Kind.CORRECTED, fields={"closed_kN": None, "maker": "Felsnase", "marks": []})
    connector = derive(log.events)
    assert (None, "Felsnase", ()) == (connector.closed_kN, connector.maker, connector.marks)


def test_retired_and_inspected_apart_is_told(log):
    """Two stations apart: one retires, the other inspects; it stays retired and a person is told."""
    shared = list(log.events)
    log.add(Kind.RETIRED, "aa", shared, reason="crack")
    log.add(Kind.INSPECTED, "bb", shared, result="pass")
    connector = derive(log.events)
    assert Life.RETIRED is connector.life
    assert 1 == len(connector.conflicts)
    assert "retired by Ada" in connector.conflicts[0]


def test_different_corrections_apart_are_told(log):
    """Two stations correct one figure differently; the same correction on both is no conflict."""
    shared = list(log.events)
    log.add(Kind.CORRECTED, "aa", shared, fields={"closed_kN": "26", "maker": "Felsnase"})
    log.add(Kind.CORRECTED, "bb", shared, fields={"closed_kN": "28", "maker": "Felsnase"})
    (conflict,) = derive(log.events).conflicts
    assert "closed_kN corrected to 26 by Ada and to 28 by Ben" == conflict


def test_a_conflict_is_settled_by_who_knows_both(log):
    """Settled, or corrected once more by a person who knows both: nothing is left to settle."""
    shared = list(log.events)
    log.add(Kind.CORRECTED, "aa", shared, fields={"closed_kN": "26"})
    log.add(Kind.CORRECTED, "bb", shared, fields={"closed_kN": "28"})
    corrected = Log()
    corrected.events, corrected.tick = list(log.events), log.tick
    corrected.add(Kind.CORRECTED, "aa", fields={"closed_kN": "28"})
    assert () == derive(corrected.events).conflicts
    log.add(Kind.SETTLED, "bb", why="looked at it")
    assert () == derive(log.events).conflicts


def test_a_release_lifts_only_what_it_knew(log):
    """A release recorded without knowing of another station's quarantine does not lift it."""
    log.add(Kind.PUT_IN_SERVICE)
    log.add(Kind.QUARANTINED, "aa", reason="dropped")
    shared = list(log.events)
    log.add(Kind.QUARANTINED, "bb", shared, reason="recall 7")
    log.add(Kind.RELEASED, "aa", shared, by="Cem")
    connector = derive(log.events)
    assert Life.QUARANTINED is connector.life
    assert "released by Ada" in connector.conflicts[0]


def test_conflicts_are_found_however_deep(log):
    """An event apart clashes with every later event of the other station, not only the first."""
    shared = list(log.events)
    log.add(Kind.INSPECTED, "bb", shared, result="pass")
    log.add(Kind.CORRECTED, "aa", shared, fields={"maker": "Felsnase"})
    mine = [e for e in log.events if e.station == "aa"]
    log.add(Kind.RETIRED, "aa", mine, reason="bent")
    assert 1 == len(derive(log.events).conflicts)


BODIES = {
    Kind.CORRECTED: st.fixed_dictionaries(
        {"fields": st.fixed_dictionaries({"closed_kN": st.sampled_from(["26", "28", None])})}
    ),
    Kind.INSPECTED: st.fixed_dictionaries({"result": st.sampled_from(["pass", "fail"])}),
}
LIFE_KINDS = [k for k in ALLOWED[Life.QUARANTINED] | {Kind.PUT_IN_SERVICE, Kind.FOUND}]


@st.composite
def histories(draw):
    """A history in which two stations sometimes work apart and sometimes know each other."""
    log = Log()
    log.add(Kind.REGISTERED, fields={"id": "C-1", "closed_kN": "27"})
    for _ in range(draw(st.integers(0, 8))):
        station = draw(st.sampled_from(["aa", "bb"]))
        own = [e for e in log.events if e.station == station or e.kind is Kind.REGISTERED]
        known = None if draw(st.booleans()) else own
        kind = draw(st.sampled_from(sorted(LIFE_KINDS)))
        body = draw(BODIES.get(kind, st.just({})))
        log.add(kind, station, known, day=f"2025-03-{draw(st.integers(1, 28)):02d}", **body)
    return log.events


@given(histories(), st.randoms(use_true_random=False))
@settings(max_examples=200)
def test_any_order_of_arrival_gives_the_same(events, chance):
    """Events mixed in any order give the same connector: merging cannot depend on who merges."""
    mixed = list(events)
    chance.shuffle(mixed)
    assert derive(events) == derive(mixed)


@given(histories())
@settings(max_examples=200)
def test_retired_stays_retired(events):
    """No later event, known or not, brings a retired connector back."""
    ordered = sorted(events, key=lambda e: e.order)
    for count in range(1, len(ordered)):
        if derive(ordered[:count]).life is Life.RETIRED:
            assert Life.RETIRED is derive(ordered).life


@given(histories())
@settings(max_examples=200)
def test_only_a_knowing_release_ends_a_quarantine(events):
    """What left quarantine for use was released by someone who knew every reason to stop it."""
    ordered = sorted(events, key=lambda e: e.order)
    for count in range(2, len(ordered) + 1):
        before, after = derive(ordered[: count - 1]).life, derive(ordered[:count]).life
        if before is Life.QUARANTINED and after in (Life.IN_SERVICE, Life.REGISTERED):
            assert Kind.RELEASED is ordered[count - 1].kind


@given(histories())
@settings(max_examples=100)
def test_a_history_in_line_has_no_conflict(events):
    """When each knew of the one before, there is nothing to settle."""
    chained, last = [], ()
    for event in sorted(events, key=lambda e: e.order):
        chained.append(replace(event, after=last))
        last = (event.id,)
    assert () == derive(chained).conflicts


@pytest.mark.parametrize("life", list(Life))
def test_the_table_of_steps_agrees_with_the_refusal(life):
    """What the table does not allow is refused in words, and nothing else is."""
    for kind in Kind:
        assert (kind in ALLOWED[life]) == (refusal(life, kind) is None)


def test_refusals_say_why():
    """The reason names the state and the step."""
    assert "it is retired for good and cannot be inspected" == refusal(Life.RETIRED, Kind.INSPECTED)


def test_a_thousand_events_of_one_connector_are_no_trouble():
    """A much handled connector is worked out quickly."""
    import time

    log = Log()
    log.add(Kind.REGISTERED, fields={"id": "C-1"})
    last = log.events[-1]
    for number in range(1000):
        last = log.add(Kind.MOVED, known=[last], place=f"Kit {number % 2}")
    start = time.perf_counter()
    derive(log.events)
    assert time.perf_counter() - start < 0.5

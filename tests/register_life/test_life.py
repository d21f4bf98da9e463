"""The steps of a connector's life: allowed ones, refused ones, many at once, all or none."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stampreader.errors import RefusedStep, UnknownConnector, UsageError
from stampreader.register import (
    Filter,
    Kind,
    Life,
    check_register,
    choose,
    clean_day,
    clean_note,
    clean_place,
    move,
    put_in_service,
    quarantine,
    release,
    report_found,
    report_lost,
    retire,
)
from stampreader.register.connectors import ANY
from stampreader.register.life import take_step


def test_a_whole_life(shelf):
    """Registered, in service, moved, quarantined, released, lost, found, inspected, retired."""
    shelf.enter("C-1")
    lives = []

    def now_it_is():
        connector = shelf.get("C-1")
        lives.append((str(connector.life), connector.place))
        return [connector]

    put_in_service(shelf.book, now_it_is(), place="Kit 1", **shelf.told())
    move(shelf.book, now_it_is(), "Kit 2", **shelf.told())
    quarantine(shelf.book, now_it_is(), "gate sticks", place="Red box", **shelf.told())
    release(
        shelf.book, now_it_is(), "cleaned", competent_person="Bea", place="Kit 2", **shelf.told()
    )
    report_lost(shelf.book, now_it_is(), reason="left in the gorge", **shelf.told())
    report_found(shelf.book, now_it_is(), place="Store", **shelf.told())
    shelf.inspect("C-1")
    release(shelf.book, now_it_is(), "sound", competent_person="Bea", **shelf.told())
    retire(shelf.book, now_it_is(), "worn", **shelf.told())
    now_it_is()
    assert [
        ("registered", ""), ("in-service", "Kit 1"), ("in-service", "Kit 2"),
        ("quarantined", "Red box"), ("in-service", "Kit 2"), ("lost", "Kit 2"),
        ("quarantined", "Store"), ("in-service", "Store"), ("retired", "Store"),
    ] == lives  # fmt: skip
    assert [] == list(check_register(shelf.book))


STEPS = {
    "service": lambda s, c, t: put_in_service(s.book, c, **t),
    "move": lambda s, c, t: move(s.book, c, "Kit 9", **t),
    "quarantine": lambda s, c, t: quarantine(s.book, c, "odd", **t),
    "release": lambda s, c, t: release(s.book, c, "fine", competent_person="Bea", **t),
    "retire": lambda s, c, t: retire(s.book, c, "worn", **t),
    "lost": lambda s, c, t: report_lost(s.book, c, **t),
    "found": lambda s, c, t: report_found(s.book, c, **t),
    "inspect": lambda s, c, t: take_step(s.book, c, Kind.INSPECTED, {"result": "pass"}, **t),
}
REFUSED = {
    Life.REGISTERED: {"release", "found"},
    Life.IN_SERVICE: {"service", "release", "found"},
    Life.QUARANTINED: {"service", "found"},
    Life.LOST: {"service", "move", "quarantine", "release", "lost", "inspect"},
    Life.RETIRED: set(STEPS),
}
"""Worked out from the issue's words, not from the program's table."""

INTO = {
    Life.REGISTERED: (),
    Life.IN_SERVICE: ("service",),
    Life.QUARANTINED: ("service", "quarantine"),
    Life.LOST: ("service", "lost"),
    Life.RETIRED: ("service", "retire"),
}


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("life", INTO, ids=str)
def test_each_step_in_each_state(shelf, life, step):
    """A step is taken or refused with the reason, and a refusal records nothing."""
    shelf.enter("C-1")
    for before in INTO[life]:
        STEPS[before](shelf, [shelf.get("C-1")], shelf.told())
    count = shelf.events()
    if step in REFUSED[life]:
        with pytest.raises(RefusedStep, match="C-1: it is"):
            STEPS[step](shelf, [shelf.get("C-1")], shelf.told())
        assert count == shelf.events()
        assert life is shelf.get("C-1").life
    else:
        STEPS[step](shelf, [shelf.get("C-1")], shelf.told())
        assert count + 1 == shelf.events()


def test_one_refused_of_many_records_none(shelf):
    """Of several connectors either all are recorded or none; every refusal is named."""
    for id in ("C-1", "C-2", "C-3"):
        shelf.enter(id, in_service="2025-05-01")
    retire(shelf.book, [shelf.get("C-2")], "worn", **shelf.told())
    report_lost(shelf.book, [shelf.get("C-3")], **shelf.told())
    before = shelf.events()
    three = [shelf.get(id) for id in ("C-1", "C-2", "C-3")]
    with pytest.raises(RefusedStep, match=r"2 of 3 refused: C-2: it is retired.*C-3: it is lost"):
        move(shelf.book, three, "Kit 1", **shelf.told())
    assert before == shelf.events()
    assert "" == shelf.get("C-1").place


def test_many_refusals_stay_one_line(shelf):
    """Of many refusals the first are named and the rest counted."""
    many = [shelf.enter(f"C-{n}") for n in range(9)]
    with pytest.raises(RefusedStep, match=r"9 of 9 refused: .*; and 4 more") as caught:
        release(shelf.book, [], "x", competent_person="Bea", **shelf.told())
        report_found(shelf.book, many, **shelf.told())
    assert "\n" not in caught.value.line()


# -- days ---------------------------------------------------------------------------------------


def test_days_may_lie_in_the_past(shelf):
    """What happened last year is recorded for last year, also before it was registered here."""
    connector = shelf.enter("C-1")
    put_in_service(shelf.book, [connector], **shelf.told("2024-01-15"))
    assert "2024-01-15" == shelf.get("C-1").in_service_on


def test_a_day_in_the_future_is_refused(shelf):
    """Nothing is recorded for tomorrow; for today it is."""
    connector = shelf.enter("C-1")
    tomorrow = (shelf.today + timedelta(days=1)).isoformat()
    with pytest.raises(RefusedStep, match="2025-06-02 lies in the future"):
        put_in_service(shelf.book, [connector], **shelf.told(tomorrow))
    put_in_service(shelf.book, [connector], **shelf.told(shelf.today.isoformat()))


def test_nothing_happens_before_it_was_made(shelf):
    """A day before the stamped date of manufacture is refused; the same month is not."""
    connector = shelf.enter("C-1", made_on="2024-05")
    with pytest.raises(RefusedStep, match="2024-04-30 lies before it was made"):
        put_in_service(shelf.book, [connector], **shelf.told("2024-04-30"))
    put_in_service(shelf.book, [connector], **shelf.told("2024-05-01"))


@pytest.mark.parametrize(
    "text",
    ["yesterday", "2025-02-30", "2025-13-01", "20250301", "2025-W10-1", "1.3.2025", "", "1899-01-01",
     "2025-3-1", "٢٠٢٥-٠٣-٠١", "2025-03-01T10:00"],
)  # fmt: skip
def test_a_day_that_is_none_is_refused(text):
    """A day is a year, month and day of the calendar; the line says how to write it."""
    with pytest.raises(UsageError, match=r"day|before") as caught:
        clean_day(text)
    assert "2025-03-01" in caught.value.line()


@given(st.dates(min_value=date(1950, 1, 1)))
def test_every_day_of_the_calendar_is_taken(day):
    """Any real day is kept as ISO 8601 writes it."""
    assert day.isoformat() == clean_day(f" {day.isoformat()} ")


# -- words --------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", ["", "   ", "\n\t", "a\x00b", "x" * 501])
def test_a_reason_is_printable_words(shelf, text):
    """An empty, endless or unprintable reason is refused."""
    connector = shelf.enter("C-1")
    with pytest.raises(UsageError):
        quarantine(shelf.book, [connector], text, **shelf.told())


def test_blanks_are_put_in_order():
    """Line breaks and doubled blanks become single blanks."""
    assert "Rescue kit 1" == clean_place("  Rescue\n kit  1 ")
    assert "worn at the nose" == clean_note("worn  at\tthe nose", "the reason")
    with pytest.raises(UsageError):
        clean_place("K" * 81)


# -- choosing -----------------------------------------------------------------------------------


def test_a_kit_is_chosen_by_its_name(shelf):
    """Of a kit those are taken that the step can be done with; names are compared without case."""
    for id in ("C-1", "C-2", "C-3"):
        shelf.enter(id, in_service="2025-05-01", place="Kit 1")
    shelf.enter("C-4", in_service="2025-05-01", place="Kit 2")
    retire(shelf.book, [shelf.get("C-2")], "worn", **shelf.told())
    found = choose(shelf.book, [], [Kind.MOVED], Filter(place="kit 1"))
    assert ["C-1", "C-3"] == [c.id for c in found]
    both = choose(shelf.book, ["c-3", "C-4", "C-4"], [Kind.MOVED], Filter(place="Kit 1"))
    assert ["C-3", "C-4", "C-1"] == [c.id for c in both]


def test_choosing_nothing_is_told(shelf):
    """No name, an unknown id and an empty kit each get their line."""
    shelf.enter("C-1")
    with pytest.raises(UsageError, match="no connector is named"):
        choose(shelf.book, [], [Kind.MOVED], ANY)
    with pytest.raises(UnknownConnector, match="C-99"):
        choose(shelf.book, ["C-1", "C-99"], [Kind.MOVED], ANY)
    with pytest.raises(UsageError, match="no connector there"):
        choose(shelf.book, [], [Kind.MOVED], Filter(place="Kit 7"))


# -- releasing ----------------------------------------------------------------------------------


def test_a_release_names_the_competent_person(shelf):
    """The event holds who released and why, beside who recorded it."""
    quarantine(shelf.book, [shelf.enter("C-1")], "odd", **shelf.told())
    (event,) = release(
        shelf.book, [shelf.get("C-1")], "only dirty", competent_person=" Bea  Berg ", **shelf.told()
    )
    assert ("Bea Berg", "only dirty", "Ada") == (
        event.body["competent_person"], event.body["reason"], event.who,
    )  # fmt: skip
    assert Life.REGISTERED is shelf.get("C-1").life
    with pytest.raises(UsageError, match="competent person"):
        release(shelf.book, [shelf.get("C-1")], "x", competent_person=" ", **shelf.told())


def test_a_failed_inspection_is_not_released_away(shelf):
    """After a failed inspection it must pass one on that day or later; an older one does not do."""
    shelf.enter("C-1", in_service="2024-01-01")
    shelf.inspect("C-1", "fail", on="2025-05-01")
    with pytest.raises(RefusedStep, match=r"its last inspection failed.*") as caught:
        release(shelf.book, [shelf.get("C-1")], "fine", competent_person="Bea", **shelf.told())
    assert "Inspect it first" in caught.value.line()
    shelf.inspect("C-1", on="2025-04-30")
    with pytest.raises(RefusedStep, match="its last inspection failed"):
        release(shelf.book, [shelf.get("C-1")], "fine", competent_person="Bea", **shelf.told())
    shelf.inspect("C-1", on="2025-05-02")
    release(
        shelf.book, [shelf.get("C-1")], "burr taken off", competent_person="Bea", **shelf.told()
    )
    assert Life.IN_SERVICE is shelf.get("C-1").life


def test_what_was_lost_is_inspected_before_release(shelf):
    """Nobody knows what happened to it: found again, it is inspected first."""
    shelf.enter("C-1", in_service="2024-01-01")
    report_lost(shelf.book, [shelf.get("C-1")], **shelf.told("2025-01-01"))
    report_found(shelf.book, [shelf.get("C-1")], **shelf.told("2025-02-01"))
    with pytest.raises(RefusedStep, match="nobody has inspected it since"):
        release(shelf.book, [shelf.get("C-1")], "fine", competent_person="Bea", **shelf.told())
    shelf.inspect("C-1", on="2025-02-02")
    release(shelf.book, [shelf.get("C-1")], "sound", competent_person="Bea", **shelf.told())
    assert Life.IN_SERVICE is shelf.get("C-1").life

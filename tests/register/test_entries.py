"""Entries by hand, corrections, settings."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stampreader.errors import RefusedStep, RegisterError, UnknownConnector, UsageError
from stampreader.register import (
    FIELDS,
    MEANINGS,
    Kind,
    Settings,
    add_by_hand,
    change_setting,
    check_register,
    clean_fields,
    clean_figure,
    correct_entry,
    find_connector,
    list_connectors,
    open_register,
    read_settings,
    setting_names,
)


def test_an_entry_by_hand_is_marked(register, clock):
    """A connector without a photo is entered and stays marked as entered by hand."""
    given = {"closed_kN": "27,5", "maker": " Felsnase ", "made_on": "2024-05", "marks": ["CE 9123"]}
    add_by_hand(register, given, who="Ada", at=clock())
    connector = find_connector(register, "C-0001")
    assert (True, Decimal("27.5"), "Felsnase") == (
        connector.by_hand,
        connector.closed_kN,
        connector.maker,
    )


def test_a_correction_is_a_new_line(register, enter, clock):
    """The correction holds what stood there before, who, when and why."""
    enter(register)
    connector = find_connector(register, "C-0001")
    event = correct_entry(
        register, connector, {"closed_kN": "26", "maker": ""}, why="misread", who="Ben", at=clock()
    )
    assert {"closed_kN": "26"} == event.body["fields"]
    assert {"closed_kN": "27"} == event.body["before"]
    assert ("misread", "Ben") == (event.body["why"], event.who)
    assert Decimal("26") == find_connector(register, "C-0001").closed_kN
    assert [] == list(check_register(register))


def test_correcting_nothing_records_nothing(register, enter, clock):
    """A correction that changes nothing leaves no line."""
    enter(register)
    connector = find_connector(register, "C-0001")
    done = correct_entry(register, connector, {"closed_kN": "27"}, why="", who="A", at=clock())
    assert done is None
    assert 1 == len(register.history(connector.uid))


def test_a_figure_can_become_unknown(register, enter, clock):
    """Correcting to `-` makes a figure unknown; it is never invented."""
    enter(register)
    connector = find_connector(register, "C-0001")
    correct_entry(register, connector, {"closed_kN": "-"}, why="worn off", who="A", at=clock())
    assert find_connector(register, "C-0001").closed_kN is None


def test_a_new_id_keeps_the_history(register, enter, clock):
    """A connector with a new id keeps its history, and its old id is free again."""
    uid = enter(register)
    enter(register, "C-0002")
    connector = find_connector(register, "C-0001")
    with pytest.raises(RefusedStep, match=r"(?i)C-0002 is taken"):
        correct_entry(register, connector, {"id": "c-0002"}, why="", who="A", at=clock())
    correct_entry(register, connector, {"id": "KIT-1"}, why="new label", who="A", at=clock())
    assert uid == find_connector(register, "KIT-1").uid
    with pytest.raises(UnknownConnector):
        find_connector(register, "C-0001")


def test_two_with_one_id_are_never_guessed(register, enter):
    """After a merge two connectors may carry one id: both keys are named, none is chosen."""
    enter(register, "C-0001")
    enter(register, "C-0001")
    with pytest.raises(RegisterError, match="2 connectors carry the id C-0001"):
        find_connector(register, "C-0001")


WRONG = {
    "zero": {"closed_kN": "0"},
    "negative": {"closed_kN": "-5"},
    "word": {"open_kN": "seven"},
    "too strong": {"closed_kN": "201"},
    "too exact": {"closed_kN": "27.123"},
    "infinite": {"closed_kN": "Infinity"},
    "other digits": {"closed_kN": "２７"},
    "unknown field": {"colour": "red"},
    "id with a space": {"id": "C 1"},
    "id of nothing": {"id": ""},
    "long id": {"id": "C" * 41},
    "month 13": {"made_on": "2024-13"},
    "day 31 of June": {"made_on": "2024-06-31"},
    "words for a date": {"made_on": "spring"},
    "control character": {"maker": "Fels\x1b[2Jnase"},
    "too long": {"note": "x" * 201},
}


@pytest.mark.parametrize("given", WRONG.values(), ids=WRONG)
def test_values_no_field_can_have(given):
    """Each is refused in one line."""
    with pytest.raises(UsageError) as told:
        clean_fields(given)
    assert "\n" not in told.value.line()


@given(st.dictionaries(st.sampled_from([f for f in FIELDS if f != "marks"]), st.text()))
def test_cleaning_never_crashes_and_is_stable(fields):
    """Any text is either refused or cleaned to something that cleans to itself."""
    try:
        cleaned = clean_fields(fields)
    except UsageError:
        return
    assert cleaned == clean_fields(cleaned)


@given(st.decimals("0.01", "200", places=2, allow_nan=False))
def test_figures_stay_as_stamped(value):
    """A strength is kept digit for digit, whatever decimal sign was typed."""
    assert str(value) == clean_figure(str(value)) == clean_figure(str(value).replace(".", ","))


def test_the_usual_settings(register):
    """Without anything set: ratio 10, a person of 1.0 kN, twelve months (EN 365 asks for a
    yearly inspection by a competent person)."""
    settings = read_settings(register)
    assert (Decimal(10), Decimal("1.0"), 12) == (
        settings.ratio,
        settings.person_kN,
        settings.interval_months,
    )


def test_a_setting_is_kept_and_told_in_the_history(register, clock):
    """A changed setting is there after opening again, and the history says who changed it."""
    change_setting(register, "ratio", "15:1", who="Ada", at=clock())
    change_setting(register, "person", "  Ada   Quell ", who="Ada", at=clock())
    with open_register(register.path) as again:
        assert (Decimal(15), "Ada Quell") == (
            read_settings(again).ratio,
            read_settings(again).person,
        )
    rows = register.rows("SELECT who, body FROM events WHERE kind = ?", [Kind.SETTING])
    assert {"who": "Ada", "body": '{"name":"ratio","value":"15"}'} == rows[0]
    assert [] == list(check_register(register))


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("ratio", "0"),
        ("ratio", "-3"),
        ("ratio", "nan"),
        ("person_kN", "0"),
        ("person_kN", "heavy"),
        ("interval_months", "0"),
        ("interval_months", "1.5"),
        ("due_soon_days", "-1"),
        ("id_prefix", "C 1"),
        ("id_prefix", "TEAM1"),
        ("ask_below", "1.2"),
        ("colour", "red"),
        ("person", "x" * 81),
    ],
)
def test_settings_that_make_no_sense(register, clock, name, value):
    """Each is refused in one line and nothing is stored."""
    with pytest.raises(UsageError):
        change_setting(register, name, value, who="Ada", at=clock())
    assert Settings() == read_settings(register)


def test_every_setting_has_a_meaning():
    """All settings are explained, in one order."""
    assert tuple(MEANINGS) == setting_names()


@pytest.mark.parametrize("made_on", ["2026", "2025-04", "2025-03-02"])
def test_nothing_is_made_in_the_future(register, clock, made_on):
    """A date of manufacture after today (1 March 2025) is a slip of the pen."""
    with pytest.raises(UsageError, match="lies in the future"):
        add_by_hand(register, {"made_on": made_on}, who="Ada", at=clock())


def test_no_event_is_left_by_a_refusal(register, clock):
    """What was refused is not in the history."""
    for fields in ({"id": "C 1"}, {"closed_kN": "0"}):
        with pytest.raises(UsageError):
            add_by_hand(register, fields, who="Ada", at=clock())
    assert [] == list_connectors(register) == register.rows("SELECT 1 FROM events")

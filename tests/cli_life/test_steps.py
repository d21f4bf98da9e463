"""The steps of a life on the command line: one or many, all or none, with one clear line."""

from datetime import date, timedelta

import pytest


def day(days_ago):
    """A day as typed."""
    return (date.today() - timedelta(days=days_ago)).isoformat()


def test_a_life_in_commands(desk):
    """Each command says what it did, and `list` shows the state that follows."""
    desk.add("C-1")
    said = []
    for words in (
        ["service", "C-1", "--to", "Kit 1"],
        ["move", "C-1", "--to", "Kit 2", "--why", "night drill"],
        ["quarantine", "C-1", "--why", "gate sticks", "--to", "Red box"],
        ["release", "C-1", "--by", "Bea", "--why", "cleaned", "--to", "Kit 2"],
        ["lost", "C-1", "--why", "left in the gorge"],
        ["found", "C-1", "--to", "Store"],
        ["inspect", "C-1", "--rest-passes"],
        ["release", "C-1", "--by", "Bea", "--why", "sound"],
        ["retire", "C-1", "--why", "worn"],
    ):
        out, _ = desk.run(*words)
        said.append(out.splitlines()[0])
    assert [
        "C-1: in service, in Kit 1",
        "C-1: moved to Kit 2",
        "C-1: quarantined, not to be used",
        "C-1: released by Bea",
        "C-1: lost",
        "C-1: found; quarantined until inspected and released",
        f"C-1  pass; quarantined, not to be used, next by {next_year()}",
        "C-1: released by Bea",
        "C-1: retired for good; spoil it so that it cannot return",
    ] == said
    assert {"C-1": ("retired", "Store")} == desk.states()


def next_year():
    """Twelve months from today (29 February: the 28th)."""
    from dateutil.relativedelta import relativedelta

    return (date.today() + relativedelta(months=12)).isoformat()


def test_json_tells_the_step_and_the_state(desk):
    """One object a connector: what was recorded, by whom, for which day, and the state after."""
    desk.add("C-1")
    desk.add("C-2")
    rows = desk.json("service", "C-1", "C-2", "--to", "Kit 1", "--on", day(10), "--who", "Bea")
    assert ["C-1", "C-2"] == [row["id"] for row in rows]
    assert {"kind": "put-in-service", "who": "Bea", "happened_on": day(10), "state": "in-service",
            "place": "Kit 1"}.items() <= rows[0].items()  # fmt: skip
    assert rows[0]["due_on"] and rows[0]["event"] != rows[1]["event"]


def test_a_whole_kit_at_once(kit):
    """All that lie in a kit are moved by its name."""
    out, _ = kit.run("move", "--place", "kit 1", "--to", "Van")
    assert out.startswith("C-1, C-2, C-3: moved to Van")
    assert "Kit 2" == kit.states()["C-4"][1]


def test_who_did_it_stands_in_the_history(desk):
    """The name given, else as set, else the login name."""
    desk.add("C-1")
    desk.run("service", "C-1")
    desk.run("settings", "person", "Cleo")
    desk.run("move", "C-1", "--to", "Kit 1")
    desk.run("move", "C-1", "--to", "Kit 2", "--who", "Bea")
    history = desk.json("show", "C-1")[0]["history"]
    assert ["Ada", "ada", "Cleo", "Bea"] == [event["who"] for event in history]


REFUSED = {
    "unknown id": (["move", "C-99", "--to", "X"], 1, "no connector C-99"),
    "nothing named": (["move", "--to", "X"], 2, "no connector is named"),
    "an empty kit": (["move", "--place", "Nowhere", "--to", "X"], 2, "no connector there"),
    "in service twice": (["service", "C-1"], 1, "C-1: it is in service and cannot be put"),
    "not lost": (["found", "C-1"], 1, "it is in service and cannot be found"),
    "not quarantined": (["release", "C-1", "--by", "B", "--why", "x"], 1, "cannot be released"),
    "no day": (["move", "C-1", "--to", "X", "--on", "soon"], 2, "'soon' is not a day"),
    "no such day": (["move", "C-1", "--to", "X", "--on", "2025-02-30"], 2, "there is no day"),
    "the future": (["move", "C-1", "--to", "X", "--on", day(-1)], 1, "lies in the future"),
    "an empty reason": (["retire", "C-1", "--why", " "], 2, "the reason is empty"),
    "an empty place": (["move", "C-1", "--to", " "], 2, "the name of the kit or store is empty"),
    "an empty name": (["move", "C-1", "--to", "X", "--who", " "], 2, "a name is needed"),
    "no competent person": (["release", "C-1", "--by", " ", "--why", "x"], 2, "competent person"),
}


@pytest.mark.parametrize(("words", "status", "line"), REFUSED.values(), ids=REFUSED)
def test_refusals(desk, words, status, line):
    """One line that says what is wrong, the right exit status, and nothing recorded."""
    desk.add("C-1", in_service=10)
    before = desk.json("show", "C-1")[0]["history"]
    assert line in desk.refused(*words, expect=status)
    assert before == desk.json("show", "C-1")[0]["history"]


@pytest.mark.parametrize("words", [["move", "C-1"], ["quarantine", "C-1"], ["retire", "C-1"],
                                   ["release", "C-1", "--why", "x"]])  # fmt: skip
def test_what_is_required_is_asked_for(desk, words):
    """A reason, a place or a name that must be given is wrong usage without."""
    desk.add("C-1")
    _, err = desk.run(*words, expect=2)
    assert "Missing option" in err


def test_all_or_none(kit):
    """One retired among five: nothing is recorded, the reason is told."""
    kit.run("retire", "C-2", "--why", "worn")
    line = kit.refused("quarantine", "C-1", "C-2", "C-3", "--why", "fall")
    assert "1 of 3 refused: C-2: it is retired for good" in line and "Nothing was recorded" in line
    assert "in-service" == kit.states()["C-1"][0]


def test_show_tells_the_whole_life(kit):
    """The history names the competent person, reasons, references and places."""
    kit.run("quarantine", "C-1", "--why", "recall", "--reference", "N-17")
    kit.run("release", "C-1", "--by", "Bea", "--why", "not of the batch")
    out, _ = kit.run("show", "C-1")
    assert "recall; N-17" in out and "by Bea; not of the batch" in out

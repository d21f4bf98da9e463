"""What the page's forms mean: only what was changed is a correction."""

from dataclasses import replace
from decimal import Decimal

import pytest
from drawn import figure

from stampreader.confirm import Asked, Bench, Decision, questions
from stampreader.errors import UsageError
from stampreader.web.show_question import ADVICE, photo_advice, question_shown
from stampreader.web.typed import numbers, understood
from stampreader.words import Arrival, Doubt, Mark, Sighting, Slot, Stamp, State


def arrival(key, **told):
    """An arrival with one photo of a stamp."""
    given = {"closed": "27", "cross": "8", "open": "7", **told}
    stamp = Stamp(
        **{slot: figure(given[slot], None) for slot in ("closed", "cross", "open")},
        marks=(Mark("CE 9123"),),
        serial=given.get("serial"),
    )
    return Arrival(
        key, "Spring", None, (Sighting(f"{key:064x}", 0, stamp, "t", None, f"{key}.jpg"),)
    )


def question(*arrivals):
    """The first question about these."""
    return questions(Bench(arrivals or (arrival(1),)))[0]


SHOWN = {"closed": ["27"], "cross": ["8"], "open": ["7"], "marks": ["CE 9123"], "maker": [""]}


def correct(asked, **typed):
    """A correction with some fields typed over."""
    form = {**SHOWN, **{name: [text] for name, text in typed.items()}, "decision": ["correct"]}
    return understood(form, asked).change


def test_only_what_differs_is_a_correction():
    """A figure left as it was shown is not taken for typed by the person."""
    change = correct(question(), open="9")
    assert {Slot.OPEN: Decimal(9)} == change.figures
    assert change.marks is None and change.fields is None


@pytest.mark.parametrize("text", ["-", "–"])
def test_minus_says_none_is_stamped(text):
    """A minus is "none stamped", which is not the same as "not read"."""
    assert {Slot.CROSS: None} == correct(question(), cross=text).figures
    unread = question(arrival(1, cross=None))
    assert {Slot.CROSS: None} == correct(unread, cross=text).figures


def test_an_emptied_figure_is_asked_about():
    """A figure wiped out by accident is never taken for "none stamped"."""
    with pytest.raises(UsageError, match="the cross figure is empty"):
        correct(question(), cross="")
    with pytest.raises(UsageError, match="nothing was changed"):
        correct(question(arrival(1, cross=None)), cross="")


@pytest.mark.parametrize("text", ["0", "201", "7kN", "１２", "1e2", "7.555", "NaN"])
def test_what_is_no_strength_is_refused(text):
    """Numbers no connector carries, other digits and notations are refused in a line."""
    with pytest.raises(UsageError, match="not a strength"):
        correct(question(), closed=text)


def test_marks_are_brought_into_normal_form():
    """Marks as typed become marks in normal form; what is none is refused."""
    assert ("CE 9123", "EN 362:2004/B") == correct(question(), marks="ce9123, EN362:2004 B").marks
    with pytest.raises(UsageError, match="'XYZ' is not a mark"):
        correct(question(), marks="CE 9123, XYZ")


def test_a_group_gets_no_serial_and_no_id():
    """What only one connector can have is not taken for a group."""
    group = question(arrival(1), arrival(2))
    assert Asked.GROUP is group.asked
    with pytest.raises(UsageError, match="nothing was changed"):
        correct(group, serial="A7", id="C-9")
    assert {"serial": "A7", "id": "C-9"} == correct(question(), serial="A7", id="C-9").fields


@pytest.mark.parametrize(
    "form",
    [
        {}, {"decision": [""]}, {"decision": ["drop table"]}, {"decision": ["confirm", "undo"]},
        {"decision": ["take out"]}, {"decision": ["take out"], "member": ["99", "x", "-1"]},
        {"decision": ["correct"], "closed": ["27", "28"]}, {"decision": ["correct"], "maker": ["x" * 500]},
    ],
    ids=str,
)  # fmt: skip
def test_forms_nobody_typed_are_refused(form):
    """Forms that the page never sends are refused in a line."""
    with pytest.raises(UsageError):
        understood(form, question(arrival(1), arrival(2)))


def test_only_members_of_the_question_are_taken_out():
    """Keys of other arrivals in the form mean nothing."""
    form = {"decision": ["take out"], "member": ["2", "3", "77"]}
    assert frozenset({2, 3}) == understood(form, question(*map(arrival, (1, 2, 3)))).keys


def test_a_group_is_not_set_aside_at_once():
    """Setting aside is for one at a time; for one the reason is taken along."""
    with pytest.raises(UsageError, match="whole group"):
        understood({"decision": ["set aside"]}, question(arrival(1), arrival(2)))
    form = {"decision": ["set aside"], "reason": [" a shackle "]}
    answer = understood(form, question())
    assert (Decision.SET_ASIDE, "a shackle") == (answer.decision, answer.reason)


def test_numbers_are_whole_and_short():
    """Lists of keys hold whole numbers; anything else is left out, however long."""
    assert frozenset({1, 23}) == numbers("1,x,23,-4,5.5," + "9" * 5000)


def test_a_figure_is_shown_with_its_state_and_its_doubts():
    """Sure, to be looked at, not read, none seen, typed: each has its own word."""
    asked = question(arrival(1, cross=("8", "ask", "ONE_READER"), open=(None, "none", "TOO_SMALL")))
    shown = question_shown(asked, lambda stamp: None)
    assert ["sure", "please look", "not read"] == [f.words for f in shown.figures]
    assert [(), ("only one reader saw it",)] == [f.doubts for f in shown.figures][:2]
    absent = question_shown(question(arrival(1, open=None)), lambda stamp: None)
    assert ("absent", "none seen") == (absent.figures[2].state, absent.figures[2].words)


def test_every_doubt_the_camera_can_mend_has_advice():
    """Each named doubt is either about the photo, with advice, or one that only the eye settles."""
    eye = {"BELOW_STANDARD", "OUT_OF_RANGE", "UNIT", "NOT_SEEN", "UNCALIBRATED"}
    assert {doubt.name for doubt in Doubt} == eye | {doubt.name for doubt in ADVICE}


def test_advice_is_short_and_about_what_concerns_most():
    """At most two sentences, the one for most doubts first; without a stamp: go closer."""
    sure, told = (
        figure("27", None),
        figure(("8", "ask", "TOO_SMALL", "ONE_READER", "UNIT_MISSING"), None),
    )
    advice = photo_advice((Stamp(sure, told, replace(told, state=State.NONE)),))
    assert 2 == len(advice)
    assert advice[0].startswith("Go closer")
    assert photo_advice(())[0].startswith("Go closer")

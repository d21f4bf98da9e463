"""Questions and what their answers mean."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stampreader.confirm import (
    Answer,
    Asked,
    Bench,
    Change,
    Decision,
    Order,
    answered,
    confirmed_entry,
    questions,
)
from stampreader.errors import UsageError
from stampreader.words import Slot

VALUES = (Decimal(27), Decimal(8), Decimal(7))


def keys(question):
    """Keys of a question's members."""
    return [a.key for a in question.members]


def ask(*arrivals, **more):
    """The questions about these arrivals."""
    return questions(Bench(arrivals, **more))


def test_readings_that_agree_are_one_question(arrival):
    """Forty equal connectors read as sure: one question about all forty."""
    (question,) = ask(*(arrival(n) for n in range(40)))
    assert (Asked.GROUP, 40) == (question.asked, len(question.members))
    assert VALUES == question.entry.values


def test_the_odd_one_out_comes_apart(arrival):
    """One connector with another figure among forty is its own question, told how it differs."""
    group, odd = ask(*(arrival(n) for n in range(39)), arrival(99, closed=22))
    assert 39 == len(group.members)
    assert [99] == keys(odd)
    assert ("It stands apart: closed 22 where 39 have 27.",) == odd.remarks


@pytest.mark.parametrize(
    "told",
    [{"marks": ()}, {"marks": ("CE 9124",)}, {"open": None}, {"marks": ("CE 9123", "UIAA")}],
    ids=["mark missing", "another number", "figure missing", "mark too many"],
)
def test_any_difference_comes_apart(arrival, told):
    """A mark missing, another number, a figure missing: never hidden in a group."""
    asked = ask(*(arrival(n) for n in range(5)), arrival(9, **told))
    assert [[0, 1, 2, 3, 4], [9]] == [keys(q) for q in asked]
    assert asked[1].remarks


def test_what_stands_apart_is_told_after_the_others_were_confirmed(arrival):
    """The group may be in the register already: the odd one is still told apart."""
    confirmed = tuple(confirmed_entry(VALUES, ["CE 9123"], {}) for _ in range(5))
    (odd,) = ask(arrival(9, cross=9), confirmed=confirmed)
    assert ("It stands apart: cross 9 where 5 have 8.",) == odd.remarks


def test_doubtful_ones_are_asked_alone(arrival):
    """Each reading with an `ask` is a question by itself, even if two are equal."""
    doubt = {"open": (7, "ask", "ONE_READER")}
    group, first, second = ask(arrival(1), arrival(2), arrival(3, **doubt), arrival(4, **doubt))
    assert [[1, 2], [3], [4]] == [keys(q) for q in (group, first, second)]
    assert Asked.ONE is first.asked


def test_nothing_read_is_typed_in_by_hand(arrival):
    """A blank connector asks for typing, and cannot be confirmed before something is typed."""
    bench = Bench((arrival(1, closed=None, cross=None, open=None, marks=()),))
    (question,) = questions(bench)
    assert Asked.BY_HAND is question.asked
    with pytest.raises(UsageError) as refused:
        answered(bench, question, Answer(Decision.CONFIRM))
    assert "cannot confirm here. Type the figures first." == refused.value.line()
    typed = Change(figures={Slot.CLOSED: Decimal(25), Slot.CROSS: None, Slot.OPEN: None})
    bench, effect = answered(bench, question, Answer(Decision.CORRECT, change=typed))
    assert effect.confirm == ()
    (question,) = questions(bench)
    assert Asked.ONE is question.asked
    _, effect = answered(bench, question, Answer(Decision.CONFIRM))
    assert Decimal(25) == effect.confirm[0][1]["closed_kN"]
    assert effect.confirm[0][1]["open_kN"] is None


def test_a_quick_link_without_open_figure_is_sure(arrival):
    """A figure the connector does not carry does not spoil the outcome."""
    (question,) = ask(*(arrival(n, open=None, marks=()) for n in range(3)))
    assert Asked.GROUP is question.asked


def test_a_figure_not_seen_is_asked(arrival):
    """A figure with a doubt and no value is looked at, not passed in a group."""
    asked = ask(*(arrival(n, open=(None, "none", "NOT_SEEN")) for n in range(3)))
    assert [Asked.ONE] * 3 == [q.asked for q in asked]


def test_below_the_claimed_standard_is_asked_alone(arrival):
    """EN 12275:2013 demands 20 kN closed of type B: 17 is a misreading or worse, asked alone."""
    told = {"closed": 17, "marks": ("EN 12275:2013/B",)}
    asked = ask(arrival(1, **told), arrival(2, **told))
    assert [[1], [2]] == [keys(q) for q in asked]
    assert asked[0].advice[0].short
    assert "at least 20 kN closed" in asked[0].advice[0].text


def test_little_confidence_is_asked_alone(arrival):
    """With `ask_below` a sure figure of less confidence is asked about by itself."""
    arrivals = [arrival(1), arrival(2)]
    assert 1 == len(ask(*arrivals, ask_below=Decimal("0.98")))
    assert 2 == len(ask(*arrivals, ask_below=Decimal("0.995")))


def test_taken_out_is_asked_alone(arrival):
    """Taking two out of a group leaves the group smaller and asks about each."""
    bench = Bench(tuple(arrival(n) for n in range(5)))
    answer = Answer(Decision.TAKE_OUT, keys=frozenset({1, 3}))
    bench, _ = answered(bench, questions(bench)[0], answer)
    assert [[0, 2, 4], [1], [3]] == [keys(q) for q in questions(bench)]


def test_skipped_is_left_for_later(arrival):
    """Skipping a question leaves it out of this sitting."""
    bench = Bench((arrival(1), arrival(2, closed=22)))
    bench, effect = answered(bench, questions(bench)[0], Answer(Decision.SKIP))
    assert [[2]] == [keys(q) for q in questions(bench)]
    assert not effect.confirm


def test_a_corrected_group_stays_a_group(arrival):
    """A correction typed for a group holds for all of it, and is confirmed with one answer."""
    bench = Bench(tuple(arrival(n) for n in range(3)))
    change = Change(figures={Slot.OPEN: Decimal(6)}, fields={"maker": "Felsnase"})
    bench, _ = answered(bench, questions(bench)[0], Answer(Decision.CORRECT, change=change))
    (question,) = questions(bench)
    assert (3, Decimal(6)) == (len(question.members), question.entry.kN(Slot.OPEN))
    _, effect = answered(bench, question, Answer(Decision.CONFIRM))
    assert ["Felsnase"] * 3 == [fields["maker"] for _, fields in effect.confirm]


def test_corrections_add_up(arrival):
    """A second correction keeps what the first one said of other fields."""
    bench = Bench((arrival(1),))
    for change in (
        Change(figures={Slot.OPEN: Decimal(6)}),
        Change(figures={Slot.CROSS: Decimal(9)}, marks=("UIAA",)),
        Change(fields={"serial": "B 2"}),
    ):
        bench, _ = answered(bench, questions(bench)[0], Answer(Decision.CORRECT, change=change))
    entry = questions(bench)[0].entry
    assert (Decimal(27), Decimal(9), Decimal(6)) == entry.values
    assert (("UIAA",), "B 2") == (entry.marks, entry.serial)


def test_serials_differ_within_a_group(arrival):
    """Serial numbers do not split a group, and each member keeps its own."""
    bench = Bench((arrival(1, serial="A1"), arrival(2, serial="A2")))
    (question,) = questions(bench)
    _, effect = answered(bench, question, Answer(Decision.CONFIRM))
    assert ["A1", "A2"] == [fields["serial"] for _, fields in effect.confirm]


def test_ordered_makers_are_entered(arrival):
    """Maker and model come from the order line the connector fits."""
    orders = (
        Order(maker="Felsnase", model="Oval", figures=VALUES),
        Order(maker="Steilhang", model="Pear", figures=(Decimal(22), *VALUES[1:])),
    )
    first, second = ask(arrival(1), arrival(2, closed=22), orders=orders)
    assert {"maker": "Felsnase", "model": "Oval"} == first.entry.fields
    assert {"maker": "Steilhang", "model": "Pear"} == second.entry.fields


def test_a_difference_from_the_order_is_told_at_the_question(arrival):
    """The question itself says what was ordered."""
    (question,) = ask(arrival(1, closed=22), orders=(Order(figures=VALUES),))
    assert ("Against the order: closed: ordered 27, arrived 22.",) == question.remarks


def test_undo_goes_back_answer_by_answer(arrival):
    """Skips and corrections are undone on the bench; stored decisions ask for a real undo."""
    start = Bench((arrival(1), arrival(2, closed=22)))
    skipped, _ = answered(start, questions(start)[0], Answer(Decision.SKIP))
    confirmed, effect = answered(skipped, questions(skipped)[0], Answer(Decision.CONFIRM))
    assert effect.confirm
    back, effect = answered(confirmed, questions(confirmed)[0], Answer(Decision.UNDO))
    assert effect.undo
    back, effect = answered(back, questions(back)[0], Answer(Decision.UNDO))
    assert not effect.undo
    assert frozenset() == back.skipped
    _, effect = answered(back, questions(back)[0], Answer(Decision.UNDO))
    assert effect.undo


def test_stop_stops(arrival):
    """Stopping stores nothing."""
    bench = Bench((arrival(1),))
    after, effect = answered(bench, questions(bench)[0], Answer(Decision.STOP))
    assert effect.stop and not effect.confirm
    assert bench == after


STAMPS = st.fixed_dictionaries(
    {
        "closed": st.sampled_from([27, 22, None, (27, "ask", "ONE_READER")]),
        "open": st.sampled_from([7, None, (None, "none", "NOT_SEEN")]),
        "marks": st.sampled_from([("CE 9123",), ()]),
    }
)


@given(st.lists(STAMPS, max_size=12))
def test_every_arrival_is_asked_exactly_once(told):
    """No arrival is forgotten and none is asked twice, whatever was read."""
    asked = questions(Bench(tuple(made(n, t) for n, t in enumerate(told))))
    assert list(range(len(told))) == sorted(k for q in asked for k in keys(q))


@given(st.lists(STAMPS, max_size=12))
def test_groups_hold_only_equal_and_sure_ones(told):
    """A group question never holds a doubtful figure nor two different entries."""
    bench = Bench(tuple(made(n, t) for n, t in enumerate(told)))
    for question in questions(bench):
        if question.asked is Asked.GROUP:
            alone = [questions(Bench((a,)))[0] for a in question.members]
            assert {question.entry.same} == {q.entry.same for q in alone}
            assert all(
                figure[1:2] != ("ask",)
                for a in question.members
                for figure in told[a.key].values()
                if isinstance(figure, tuple) and len(figure) == 3
            )


def made(key, told):
    """An arrival for property tests, which take no fixtures."""
    from stampreader.words import Arrival, Doubt, Figure, Mark, Sighting, Stamp, State

    def figure(one):
        if one is None:
            return Figure()
        value, state, *doubts = one if isinstance(one, tuple) else (one, "sure")
        kN = None if value is None else Decimal(value)
        return Figure(kN, State(state), 0.9, doubts=tuple(Doubt[name] for name in doubts))

    stamp = Stamp(
        figure(told["closed"]), figure(8), figure(told["open"]), tuple(map(Mark, told["marks"]))
    )
    return Arrival(key, "d", None, (Sighting(str(key), 0, stamp),))

"""Which questions a person is asked, and what each answer means. No screen, no storage.

A `Bench` holds the arrivals that wait and what the person did in this sitting. `questions` gives
what to ask; `answered` gives the bench after an answer and what is to be stored.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from enum import StrEnum
from typing import Any

from stampreader.confirm.advice import Advice, standards_advice
from stampreader.confirm.entry import UNCHANGED, Change, Entry, entry_of
from stampreader.confirm.order import Order, assign, differences
from stampreader.errors import UsageError
from stampreader.words import SLOTS, Arrival, State


class Decision(StrEnum):
    """What a person may decide."""

    CONFIRM = "confirm"
    TAKE_OUT = "take out"
    CORRECT = "correct"
    SET_ASIDE = "set aside"
    SKIP = "skip"
    UNDO = "undo"
    STOP = "stop"


class Asked(StrEnum):
    """What kind of question it is."""

    GROUP = "group"
    ONE = "one"
    BY_HAND = "by hand"


Advise = Callable[[Entry], Sequence[Advice]]


@dataclass(frozen=True, slots=True)
class Question:
    """One question to the person.

    Attributes:
        asked: about a group that agrees, about one, or one to be typed in by hand.
        members: the arrivals meant.
        entry: what would be entered for each (serials may differ from member to member).
        advice: remarks of the standards.
        remarks: other things to look at, in words.
        may: decisions that make sense here.
    """

    asked: Asked
    members: tuple[Arrival, ...]
    entry: Entry
    advice: tuple[Advice, ...] = ()
    remarks: tuple[str, ...] = ()
    may: frozenset[Decision] = frozenset(Decision)


@dataclass(frozen=True, slots=True)
class Answer:
    """What the person answered.

    Attributes:
        decision: what they decided.
        keys: arrivals meant by take out; all of the question if empty.
        change: what they typed, for a correction.
        reason: why, for setting aside.
    """

    decision: Decision
    keys: frozenset[int] = frozenset()
    change: Change = UNCHANGED
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Effect:
    """What is to be stored before the next question is asked.

    Attributes:
        confirm: arrivals with the fields of their entries.
        set_aside: arrivals to take off the list, with the reason.
        undo: take back the latest decision.
        stop: the person stops.
    """

    confirm: tuple[tuple[Arrival, dict[str, Any]], ...] = ()
    set_aside: tuple[Arrival, ...] = ()
    reason: str = ""
    undo: bool = False
    stop: bool = False


NO_EFFECT = Effect()


@dataclass(frozen=True, slots=True)
class Bench:
    """The arrivals on the bench and what was done with them in this sitting.

    Attributes:
        arrivals: those that wait.
        orders: what was ordered, if known.
        alone: keys of arrivals taken out of their group.
        skipped: keys left for later.
        changes: what was typed, by key.
        confirmed: entries of the same delivery that are in the register already.
        ask_below: a sure figure with less confidence is asked about by itself.
        advise: remarks of the standards on an entry.
        earlier: the bench before the latest answer of this sitting, for undoing it.
        stored: whether that answer was a decision that was stored.
    """

    arrivals: tuple[Arrival, ...]
    orders: tuple[Order, ...] = ()
    alone: frozenset[int] = frozenset()
    skipped: frozenset[int] = frozenset()
    changes: Mapping[int, Change] = field(default_factory=dict)
    confirmed: tuple[Entry, ...] = ()
    ask_below: Decimal = Decimal(0)
    advise: Advise = standards_advice
    earlier: Bench | None = None
    stored: bool = False

    def with_arrivals(self, arrivals: Sequence[Arrival], confirmed: Sequence[Entry] = ()) -> Bench:
        """The bench after the register was read again."""
        return replace(self, arrivals=tuple(arrivals), confirmed=tuple(confirmed))


def questions(bench: Bench) -> tuple[Question, ...]:
    """All questions still open: groups that agree first, then each that needs its own look."""
    entries = entries_on(bench)
    groups: dict[Any, list[Arrival]] = {}
    single: list[Question] = []
    for arrival in bench.arrivals:
        if arrival.key in bench.skipped:
            continue
        entry = entries[arrival.key]
        advice = tuple(bench.advise(entry))
        if _by_itself(bench, arrival, entry, advice):
            single.append(_single(bench, arrival, entry, advice))
        else:
            groups.setdefault(_group_key(bench, entry), []).append(arrival)
    usual = usual_of([*entries.values(), *bench.confirmed])
    grouped = [_group(bench, members, entries, usual) for members in groups.values()]
    return (*grouped, *single)


def usual_of(entries: Sequence[Entry]) -> tuple[Entry, int] | None:
    """What most connectors of a delivery carry, and how many; `None` without a clear majority."""
    counts = Counter(entry.same for entry in entries if outcome(entry) is State.SURE)
    if not counts:
        return None
    same, count = counts.most_common(1)[0]
    if count < 3 or count * 2 <= sum(counts.values()):
        return None
    return next(entry for entry in entries if entry.same == same), count


def entries_on(bench: Bench) -> dict[int, Entry]:
    """What would be entered for each arrival, with maker and model as ordered."""
    entries = {a.key: entry_of(a, bench.changes.get(a.key, UNCHANGED)) for a in bench.arrivals}
    for key, order in assign(bench.orders, entries).items():
        ordered = {"maker": order.maker, "model": order.model}
        known = {name: value for name, value in ordered.items() if value}
        entries[key] = replace(entries[key], fields={**known, **(entries[key].fields or {})})
    return entries


def _group_key(bench: Bench, entry: Entry) -> Any:
    fields = dict(entry.fields or {})
    return (entry.same, tuple(sorted(fields.items())))


def _by_itself(bench: Bench, arrival: Arrival, entry: Entry, advice: Sequence[Advice]) -> bool:
    if arrival.key in bench.alone or any(remark.short for remark in advice):
        return True
    return outcome(entry, bench.ask_below) is not State.SURE


def outcome(entry: Entry, ask_below: Decimal = Decimal(0)) -> State:
    """The worst state among the figures there is evidence for; what a person typed is sure."""
    states = []
    for slot in SLOTS:
        figure = entry.stamp.figure(slot)
        if slot in entry.typed:
            states.append(State.SURE)
        elif figure.kN is not None and figure.confidence < ask_below:
            states.append(State.ASK)
        elif figure.kN is not None or figure.doubts:
            states.append(figure.state)
    if not any(value is not None for value in entry.values) and not entry.typed:
        return State.NONE
    return State.SURE if states and set(states) == {State.SURE} else State.ASK


def _single(bench: Bench, arrival: Arrival, entry: Entry, advice: tuple[Advice, ...]) -> Question:
    by_hand = outcome(entry) is State.NONE
    may = set(Decision) - {Decision.TAKE_OUT}
    if by_hand:
        may.discard(Decision.CONFIRM)
    return Question(
        asked=Asked.BY_HAND if by_hand else Asked.ONE,
        members=(arrival,),
        entry=entry,
        advice=advice,
        remarks=(*_against_order(bench, entry), *arrival.notes, *entry.stamp.notes),
        may=frozenset(may),
    )


def _group(
    bench: Bench,
    members: Sequence[Arrival],
    entries: Mapping[int, Entry],
    usual: tuple[Entry, int] | None,
) -> Question:
    entry = entries[members[0].key]
    may = set(Decision) - ({Decision.TAKE_OUT} if len(members) == 1 else set())
    notes = (note for arrival in members for note in arrival.notes)
    remarks = (*_against_order(bench, entry), *stands_apart(entry, usual), *notes)
    return Question(
        asked=Asked.GROUP if len(members) > 1 else Asked.ONE,
        members=tuple(members),
        entry=entry,
        advice=tuple(bench.advise(entry)),
        remarks=tuple(dict.fromkeys(remarks)),
        may=frozenset(may),
    )


def _against_order(bench: Bench, entry: Entry) -> tuple[str, ...]:
    """How an entry differs from the order, in words."""
    order = assign(bench.orders, {0: entry}).get(0)
    if order is None:
        return ()
    return tuple(f"Against the order: {one}." for one in differences(order, entry))


def stands_apart(entry: Entry, usual: tuple[Entry, int] | None) -> tuple[str, ...]:
    """How an entry differs from what most of its delivery carry, in words."""
    if usual is None or entry.same == usual[0].same:
        return ()
    most, count = usual
    told = [
        f"{slot.value} {_said(entry.kN(slot))} where {count} have {_said(most.kN(slot))}"
        for slot in SLOTS
        if entry.kN(slot) != most.kN(slot)
    ]
    lacking = sorted(set(most.marks) - set(entry.marks))
    extra = sorted(set(entry.marks) - set(most.marks))
    told += [f"without {', '.join(lacking)}, which {count} have"] if lacking else []
    told += [f"with {', '.join(extra)}, which {count} have not"] if extra else []
    return tuple(f"It stands apart: {text}." for text in told)


def _said(value: Decimal | None) -> str:
    return "nothing" if value is None else str(value)


def answered(bench: Bench, question: Question, answer: Answer) -> tuple[Bench, Effect]:
    """The bench after an answer, and what is to be stored for it.

    Raises:
        UsageError: the decision makes no sense for this question.
    """
    if answer.decision not in question.may:
        raise UsageError(
            f"cannot {answer.decision} here",
            remedy="Type the figures first."
            if question.asked is Asked.BY_HAND
            else "Choose another key.",
        )
    after, effect = _MEANING[answer.decision](bench, question, answer)
    if answer.decision not in (Decision.UNDO, Decision.STOP):
        after = replace(after, earlier=bench, stored=effect != NO_EFFECT)
    return after, effect


def _meant(question: Question, answer: Answer) -> tuple[Arrival, ...]:
    if not answer.keys:
        return question.members
    return tuple(arrival for arrival in question.members if arrival.key in answer.keys)


def _confirm(bench: Bench, question: Question, answer: Answer) -> tuple[Bench, Effect]:
    entries = entries_on(bench)
    return bench, Effect(
        confirm=tuple((a, entries[a.key].as_fields()) for a in _meant(question, answer))
    )


def _take_out(bench: Bench, question: Question, answer: Answer) -> tuple[Bench, Effect]:
    keys = {arrival.key for arrival in _meant(question, answer)}
    return replace(bench, alone=bench.alone | keys), NO_EFFECT


def _correct(bench: Bench, question: Question, answer: Answer) -> tuple[Bench, Effect]:
    changes = dict(bench.changes)
    for arrival in _meant(question, answer):
        changes[arrival.key] = answer.change.over(changes.get(arrival.key, UNCHANGED))
    alone = bench.alone
    if question.asked is not Asked.GROUP:
        alone |= {arrival.key for arrival in question.members}
    return replace(bench, changes=changes, alone=alone), NO_EFFECT


def _set_aside(bench: Bench, question: Question, answer: Answer) -> tuple[Bench, Effect]:
    return bench, Effect(set_aside=_meant(question, answer), reason=answer.reason)


def _skip(bench: Bench, question: Question, answer: Answer) -> tuple[Bench, Effect]:
    keys = {arrival.key for arrival in _meant(question, answer)}
    return replace(bench, skipped=bench.skipped | keys), NO_EFFECT


def _undo(bench: Bench, question: Question, answer: Answer) -> tuple[Bench, Effect]:
    """Back to before the latest answer; a stored decision is taken back in the register too.

    With no answer left in this sitting, the latest decision of an earlier one is taken back.
    """
    if bench.earlier is None:
        return bench, Effect(undo=True)
    earlier = bench.earlier.with_arrivals(bench.arrivals, bench.confirmed)
    return earlier, Effect(undo=True) if bench.stored else NO_EFFECT


def _stop(bench: Bench, question: Question, answer: Answer) -> tuple[Bench, Effect]:
    return bench, Effect(stop=True)


_MEANING: dict[Decision, Callable[[Bench, Question, Answer], tuple[Bench, Effect]]] = {
    Decision.CONFIRM: _confirm,
    Decision.TAKE_OUT: _take_out,
    Decision.CORRECT: _correct,
    Decision.SET_ASIDE: _set_aside,
    Decision.SKIP: _skip,
    Decision.UNDO: _undo,
    Decision.STOP: _stop,
}

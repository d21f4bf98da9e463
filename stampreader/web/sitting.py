"""One sitting of confirming on the page: the benches, the question shown, and its answers.

The questions and what an answer means are those of `confirm`; here they are held against what the
page showed, carried out, and kept. Everything here runs in one thread, that of the register.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime

from stampreader.confirm import (
    Answer,
    Asked,
    Bench,
    Decision,
    Effect,
    Entry,
    Order,
    Question,
    answered,
    compare,
    confirmed_entry,
    entries_on,
    questions,
)
from stampreader.errors import RefusedStep, UsageError
from stampreader.register import (
    Filter,
    Progress,
    Register,
    change_count,
    confirm_arrivals,
    deliveries_in_progress,
    in_words,
    list_connectors,
    order_of,
    progress_of,
    read_settings,
    set_aside,
    undo_last,
    waiting,
)
from stampreader.web.kept import keep_benches, kept_bench, kept_place

NOTHING_LEFT = Question(Asked.ONE, (), confirmed_entry((None, None, None), (), {}))
"""What stands in for a question when everything is answered and the person undoes."""


class Stale(RefusedStep):
    """What was answered is not what is asked now."""

    kind = "stale"
    remedy = "Nothing was entered twice. Here is what is asked now."


class NotShown(RefusedStep):
    """Something would be confirmed whose evidence was not on the screen."""

    kind = "not-shown"
    remedy = "Look at all of them, then confirm."


@dataclass(frozen=True, slots=True)
class Asking:
    """What the page shows of a delivery.

    Attributes:
        progress: how far it has come.
        question: what is asked now, `None` if nothing is.
        open: how many questions are open, this one included.
        skipped: arrivals left for later in this sitting.
        token: names the question exactly as it is shown; an answer must give it back.
        told: what came of the latest answer.
        can_undo: whether an answer of this sitting, or a decision, can be taken back.
        differences: how the whole delivery differs from its order, once all of it is answered.
    """

    progress: Progress
    question: Question | None
    open: int
    skipped: int
    token: str
    told: str
    can_undo: bool
    differences: tuple[str, ...] = ()


class Sitting:
    """The benches of all deliveries in front of one person."""

    def __init__(self, register: Register, who: str, clock: Callable[[], datetime]) -> None:
        self.register = register
        self.who = who
        self.clock = clock
        self._benches: dict[str, Bench] = {}
        self._asked: dict[str, tuple[tuple[int, int], tuple[Question, ...]]] = {}
        self._told: dict[str, str] = {}

    def deliveries(self) -> list[Progress]:
        """Deliveries of which something waits."""
        return deliveries_in_progress(self.register)

    def look_ahead(self, delivery: str | None) -> None:
        """Work out the first questions before anybody waits for them."""
        for progress in self.deliveries():
            if delivery in (None, progress.delivery):
                self._questions(progress.delivery)
                return

    def ask(self, delivery: str) -> Asking:
        """What to show of a delivery now."""
        asked = self._questions(delivery)
        bench = self._benches[delivery]
        question = asked[0] if asked else None
        progress = progress_of(self.register, delivery)
        return Asking(
            progress=progress,
            question=question,
            open=len(asked),
            skipped=len(bench.skipped & {a.key for a in bench.arrivals}),
            token=token_of(delivery, question),
            told=self._told.get(delivery, ""),
            can_undo=bench.earlier is not None or progress.decided > 0,
            differences=() if asked else _differences(bench),
        )

    def answer(self, delivery: str, answer: Answer, token: str, seen: frozenset[int]) -> None:
        """Carry out an answer to the question the page showed.

        Args:
            delivery: which.
            answer: the decision.
            token: of the question as it was shown.
            seen: keys of the members whose evidence was on the screen.

        Raises:
            Stale: something else is asked by now.
            NotShown: a member's evidence was not on the screen.
            UsageError: the decision makes no sense here.
            RegisterError: it could not be stored.
        """
        asked = self._questions(delivery)
        shown = asked[0] if asked else None
        if token_of(delivery, shown) != token or (
            not shown and answer.decision is not Decision.UNDO
        ):
            raise Stale("this was answered already, or has changed meanwhile")
        question = shown or NOTHING_LEFT
        if answer.decision is Decision.CONFIRM:
            missing = {a.key for a in question.members} - seen
            if missing:
                raise NotShown(f"{len(missing)} of {len(question.members)} were not shown yet")
        self._carry_out(delivery, *answered(self._benches[delivery], question, answer), answer)

    def ask_skipped_again(self, delivery: str) -> None:
        """Put what was skipped back on the table."""
        self._questions(delivery)
        bench = self._benches[delivery]
        self._benches[delivery] = replace(bench, skipped=frozenset(), earlier=bench, stored=False)
        self._told[delivery] = "What was skipped is asked again."
        self._asked.pop(delivery, None)
        self._keep()

    def _carry_out(self, delivery: str, after: Bench, effect: Effect, answer: Answer) -> None:
        told = self._store(delivery, effect)
        self._told[delivery] = told or _NOTED.get(answer.decision, "")
        self._benches[delivery] = after
        self._asked.pop(delivery, None)
        self._keep()

    def _store(self, delivery: str, effect: Effect) -> str:
        """Store what an answer decided; gives the sentence that acknowledges it."""
        register, who, at = self.register, self.who, self.clock()
        if effect.confirm:
            events = confirm_arrivals(register, effect.confirm, who=who, at=at)
            return f"Confirmed: {in_words([str(e.body['fields']['id']) for e in events])}."
        if effect.set_aside:
            set_aside(register, effect.set_aside, reason=effect.reason, who=who, at=at)
            return f"Set aside: {len(effect.set_aside)}."
        if effect.undo:
            undone = undo_last(register, delivery, who=who, at=at)
            if undone is None:
                raise UsageError("there is nothing to undo", remedy="")
            return f"Undone: {undone.words}; asked again."
        return ""

    def _keep(self) -> None:
        alive = {progress.delivery for progress in self.deliveries()}
        keep_benches(kept_place(self.register.path), self._benches, alive)

    def _questions(self, delivery: str) -> tuple[Question, ...]:
        """The open questions, worked out anew when the register has changed."""
        version = change_count(self.register)
        known = self._asked.get(delivery)
        if known is not None and known[0] == version:
            return known[1]
        bench = self._bench(delivery)
        self._benches[delivery] = bench
        asked = questions(bench)
        self._asked[delivery] = (version, asked)
        return asked

    def _bench(self, delivery: str) -> Bench:
        arrivals = tuple(waiting(self.register, delivery))
        confirmed = tuple(_confirmed(self.register, delivery))
        known = self._benches.get(delivery)
        if known is not None:
            return known.with_arrivals(arrivals, confirmed)
        fresh = Bench(
            arrivals=arrivals,
            orders=tuple(Order.from_json(line) for line in order_of(self.register, delivery)),
            confirmed=confirmed,
            ask_below=read_settings(self.register).ask_below,
        )
        return kept_bench(kept_place(self.register.path), delivery, fresh)


def _confirmed(register: Register, delivery: str) -> list[Entry]:
    """Entries of a delivery that are in the register already."""
    return [
        confirmed_entry(
            (connector.closed_kN, connector.cross_kN, connector.open_kN),
            connector.marks,
            {"maker": connector.maker, "model": connector.model},
        )
        for connector in list_connectors(register, Filter(delivery=delivery))
    ]


def _differences(bench: Bench) -> tuple[str, ...]:
    """How a delivery differs from its order: what was confirmed and what still waits."""
    entries = entries_on(bench)
    entries.update({-number: entry for number, entry in enumerate(bench.confirmed, 1)})
    found = compare(bench.orders, entries)
    return tuple(
        f"{one}" + (f" ({len(one.arrivals)} of them)" if len(one.arrivals) > 1 else "")
        for one in found
    )


def token_of(delivery: str, question: Question | None) -> str:
    """A name for exactly this question: its members, their evidence, and what would be entered."""
    if question is None:
        told: list[object] = [delivery]
    else:
        entry = question.entry
        told = [
            delivery,
            question.asked.value,
            [[a.key, [[s.photo, s.number, s.crop] for s in a.seen]] for a in question.members],
            [None if kN is None else str(kN) for kN in entry.values],
            list(entry.marks),
            entry.serial,
            sorted((entry.fields or {}).items()),
        ]
    return hashlib.sha256(json.dumps(told).encode("utf-8")).hexdigest()[:32]


_NOTED = {
    Decision.TAKE_OUT: "Taken out; asked about one by one.",
    Decision.CORRECT: "Noted; now confirm it.",
    Decision.SKIP: "Skipped; it waits.",
    Decision.UNDO: "Undone.",
}

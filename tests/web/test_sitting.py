"""A sitting without a browser: answers held against what was shown, and what is kept of it."""

import json
from dataclasses import replace
from decimal import Decimal

import pytest
from drawn import Clock

from stampreader.confirm import Answer, Change, Decision, Order
from stampreader.errors import RegisterError, UsageError
from stampreader.register import keep_order, list_connectors, waiting
from stampreader.web.kept import kept_place
from stampreader.web.sitting import NotShown, Sitting, Stale, token_of
from stampreader.words import Slot


@pytest.fixture
def sit(bench):
    """Opens a sitting at the bench's register."""
    books = []

    def down():
        book = bench.open(create=True)
        books.append(book)
        return Sitting(book, "Ada", bench.clock)

    yield down
    for book in books:
        book.close()


def reply(sitting, decision, *, seen=None, **more):
    """Answer the question that is asked now."""
    asking = sitting.ask("Spring")
    members = () if asking.question is None else asking.question.members
    shown = frozenset(a.key for a in members) if seen is None else frozenset(seen)
    sitting.answer("Spring", Answer(decision, **more), asking.token, shown)
    return sitting.ask("Spring")


def test_only_what_was_shown_is_confirmed(bench, sit):
    """A member whose evidence was not on the screen keeps the whole group from being entered."""
    keys = bench.deliver(4)
    sitting = sit()
    with pytest.raises(NotShown, match="1 of 4"):
        reply(sitting, Decision.CONFIRM, seen=keys[:3])
    assert 4 == len(waiting(sitting.register))
    assert "Confirmed" in reply(sitting, Decision.CONFIRM).told


def test_an_answer_to_what_was_asked_before_is_refused(bench, sit):
    """The question changed meanwhile: the answer is refused, nothing is entered twice."""
    bench.deliver(2)
    sitting = sit()
    token = sitting.ask("Spring").token
    bench.deliver(1, first=9)
    with pytest.raises(Stale):
        sitting.answer("Spring", Answer(Decision.CONFIRM), token, frozenset({1, 2, 3}))
    assert [] == list_connectors(sitting.register)


@pytest.mark.parametrize(
    "told",
    [{"values": (Decimal(26), Decimal(8), Decimal(7))}, {"marks": ("CE 9124",)}, {"serial": "A7"},
     {"fields": {"maker": "Felsnase"}}],
    ids=["figure", "mark", "serial", "maker"],
)  # fmt: skip
def test_the_token_names_all_that_would_be_entered(bench, sit, told):
    """Another figure, mark, serial or maker is another question."""
    bench.deliver(1)
    question = sit().ask("Spring").question
    other = replace(question, entry=replace(question.entry, **told))
    assert token_of("Spring", question) != token_of("Spring", other)
    assert token_of("Spring", question) != token_of("Autumn", question)


def test_what_another_window_confirmed_is_seen(bench, sit):
    """A second sitting at the same register notices what the first one stored."""
    bench.deliver(2)
    one, two = sit(), sit()
    assert 2 == two.ask("Spring").progress.waiting
    reply(one, Decision.CONFIRM)
    assert two.ask("Spring").question is None


def test_everything_typed_survives_the_program(bench, sit):
    """Corrected, taken out and skipped: a new sitting goes on with all of it, and can undo it."""
    keys = bench.deliver(4)
    first = sit()
    reply(first, Decision.TAKE_OUT, keys=frozenset({keys[1]}))
    reply(first, Decision.SKIP)
    typed = Change(figures={Slot.OPEN: None}, marks=("CE 9124",), fields={"maker": "Felsnase"})
    reply(first, Decision.CORRECT, change=typed)
    again = sit()
    asking = again.ask("Spring")
    assert (1, 3) == (len(asking.question.members), asking.skipped)
    assert asking.question.entry.kN(Slot.OPEN) is None
    assert ("CE 9124",) == asking.question.entry.marks
    assert "Felsnase" == asking.question.entry.fields["maker"]
    asking = reply(again, Decision.UNDO)
    assert "7" == str(asking.question.entry.kN(Slot.OPEN))
    assert 3 == len(reply(again, Decision.UNDO).question.members)
    assert 4 == len(reply(again, Decision.UNDO).question.members)


def test_what_was_typed_never_falls_on_another_connector(bench, sit, tmp_path):
    """A register begun anew beside an old sitting: arrivals of the same number stay untouched."""
    bench.deliver(1)
    reply(sit(), Decision.CORRECT, change=Change(figures={Slot.CLOSED: None}))
    kept = kept_place(bench.register).read_text("utf-8")
    bench.register = tmp_path / "new.sqlite"
    kept_place(bench.register).write_text(kept, "utf-8")
    bench.deliver(1, first=77)
    assert "27" == str(sit().ask("Spring").question.entry.kN(Slot.CLOSED))


@pytest.mark.parametrize(
    "text",
    [
        "", "{", "[]", "null", '{"form": 99, "deliveries": {}}', '{"form": 1, "deliveries": []}',
        '{"form": 1, "deliveries": {"Spring": [{"alone": 5}]}}',
        '{"form": 1, "deliveries": {"Spring": [{"stored": false, "alone": [], "skipped": [],'
        ' "changes": {"PHOTO/0": {"figures": {"closed": "x"}, "marks": null, "fields": null}}}]}}',
    ],
)  # fmt: skip
def test_a_damaged_sitting_is_begun_anew(bench, sit, text):
    """Whatever stands in the file, the review begins and the register is untouched."""
    bench.deliver(1)
    photo = waiting(sit().register)[0].seen[0].photo
    kept_place(bench.register).write_text(text.replace("PHOTO", photo), "utf-8")
    sitting = sit()
    assert "27" == str(sitting.ask("Spring").question.entry.kN(Slot.CLOSED))
    reply(sitting, Decision.SKIP)


def test_other_deliveries_stay_kept(bench, sit):
    """Working on one delivery does not forget what was typed of another."""
    bench.deliver(1)
    bench.deliver(1, first=9, delivery="Autumn")
    first = sit()
    asking = first.ask("Autumn")
    first.answer("Autumn", Answer(Decision.SKIP), asking.token, frozenset())
    second = sit()
    reply(second, Decision.SKIP)
    assert 1 == sit().ask("Autumn").skipped


def test_nothing_is_kept_once_all_is_decided(bench, sit):
    """After the last decision the file beside the register is gone."""
    bench.deliver(1)
    sitting = sit()
    reply(sitting, Decision.CORRECT, change=Change(figures={Slot.CLOSED: None}))
    assert kept_place(bench.register).exists()
    reply(sitting, Decision.CONFIRM)
    assert not kept_place(bench.register).exists()


def test_a_sitting_that_cannot_be_kept_is_told(bench, sit, monkeypatch):
    """A full disk: the answer is refused in words that say what is safe."""
    bench.deliver(1)
    sitting = sit()
    sitting.ask("Spring")

    def full(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("stampreader.web.kept.os.fsync", full)
    with pytest.raises(RegisterError, match="cannot be kept"):
        reply(sitting, Decision.SKIP)
    assert [] == [p for p in bench.folder.iterdir() if p.suffix == ".new"]


def test_undo_with_nothing_to_undo_is_told(bench, sit):
    """Undo at the very beginning says that there is nothing."""
    bench.deliver(1)
    sitting = sit()
    assert not sitting.ask("Spring").can_undo
    with pytest.raises(UsageError, match="nothing to undo"):
        reply(sitting, Decision.UNDO)


def test_differences_from_the_order_are_told_at_the_end(bench, sit):
    """When all is answered, what differs from the order is told: one too few, another figure."""
    bench.deliver(3)
    sitting = sit()
    order = Order.from_json({"count": 4, "figures": "27/8/9"})
    keep_order(sitting.register, "Spring", [order.as_json()], who="Ada", at=Clock()())
    assert () == sitting.ask("Spring").differences
    told = reply(sitting, Decision.CONFIRM).differences
    assert "count: ordered 4 (27/8/9), arrived 3" in told
    assert "open: ordered 9, arrived 7 (3 of them)" in told


def test_the_kept_file_holds_no_more_than_it_needs(bench, sit):
    """Forty steps back can be undone after a restart; the file does not grow beyond that."""
    bench.deliver(60, closed=("27", "ask", "ONE_READER"))
    sitting = sit()
    for _ in range(60):
        reply(sitting, Decision.SKIP)
    kept = json.loads(kept_place(bench.register).read_text("utf-8"))
    assert 40 == len(kept["deliveries"]["Spring"])

"""What is typed at the prompt."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stampreader.cli.answers import KEY_HELP, Help, Look, keys_line, member_numbers, understand
from stampreader.confirm import Answer, Asked, Bench, Decision, Question, entry_of, questions
from stampreader.errors import UsageError
from stampreader.words import Arrival, Figure, Sighting, Slot, Stamp, State


def group(count):
    """A question about so many connectors."""
    stamp = Stamp(Figure(Decimal(27), State.SURE, 0.99))
    arrivals = tuple(
        Arrival(n * 10, "d", None, (Sighting(str(n), 0, stamp),)) for n in range(1, count + 1)
    )
    return questions(Bench(arrivals))[0]


FIGURES = {Slot.CLOSED: Decimal(27), Slot.CROSS: Decimal("8.5"), Slot.OPEN: None}

LINES = {
    "y": (Decision.CONFIRM, {}),
    " Y ": (Decision.CONFIRM, {}),
    "t 2": (Decision.TAKE_OUT, {"keys": frozenset({20})}),
    "t 1, 3-4": (Decision.TAKE_OUT, {"keys": frozenset({10, 30, 40})}),
    "f 27/8,5/-": (Decision.CORRECT, {"figures": FIGURES}),
    "27/8.5/-": (Decision.CORRECT, {"figures": FIGURES}),
    "f open 7": (Decision.CORRECT, {"figures": {Slot.OPEN: Decimal(7)}}),
    "f cross -": (Decision.CORRECT, {"figures": {Slot.CROSS: None}}),
    "e maker=Felsnase; batch=24 A": (
        Decision.CORRECT,
        {"fields": {"maker": "Felsnase", "batch": "24 A"}},
    ),
    "e marks=ce9123": (Decision.CORRECT, {"marks": ("CE 9123",)}),
    "s": (Decision.SKIP, {}),
    "u": (Decision.UNDO, {}),
    "q": (Decision.STOP, {}),
}


@pytest.mark.parametrize(("line", "meant"), LINES.items(), ids=LINES)
def test_lines(line, meant):
    """Each line means its decision, with what was typed."""
    typed = understand(line, group(5))
    decision, parts = meant
    assert isinstance(typed, Answer)
    assert decision is typed.decision
    assert parts.get("keys", frozenset()) == typed.keys
    for name in ("figures", "fields", "marks"):
        assert parts.get(name) == (getattr(typed.change, name) or None)


def test_looking_and_help():
    """Looking at evidence and help are no answers."""
    assert Look() == understand("v", group(3))
    assert Look(2) == understand("v 2", group(3))
    assert Help() == understand("?", group(3))


def test_set_aside_takes_one_at_a_time():
    """One is set aside with its reason; a whole group is not."""
    answer = understand("x a key ring", group(1))
    assert (Decision.SET_ASIDE, "a key ring") == (answer.decision, answer.reason)
    with pytest.raises(UsageError, match="closer look"):
        understand("x", group(2))


@pytest.mark.parametrize(
    "line",
    ["", "yes", "y 3", "t", "t 6", "t 0", "t x", "t 3-2", "f", "f 27", "f 27/8", "f closed", "f side 7",
     "f closed seven", "e", "e colour=red", "e maker", "e marks=shiny", "e id=C-9", "v 9", "v 1 2",
     "27/8", "1/2/3/4", "q now", "☃"],
)  # fmt: skip
def test_lines_that_are_not_understood(line):
    """Each is refused; nothing is guessed."""
    with pytest.raises(UsageError):
        understand(line, group(5))


@given(st.text())
def test_no_line_crashes(line):
    """Whatever is typed is understood or refused, and only `y` confirms."""
    try:
        typed = understand(line, group(3))
    except UsageError:
        return
    if isinstance(typed, Answer) and typed.decision is Decision.CONFIRM:
        assert "y" == line.strip().lower()


@pytest.mark.parametrize(
    ("text", "numbers"), [("3", (3,)), ("1-3", (1, 2, 3)), ("5,1 2", (5, 1, 2)), ("2 2", (2,))]
)
def test_numbers(text, numbers):
    """Single numbers, lists and ranges."""
    assert numbers == member_numbers(text, 5)


@pytest.mark.parametrize("asked", list(Asked))
def test_the_keys_shown_work(asked):
    """Every key on the line is one that is allowed for the question, and every key has help."""
    base = group(2 if asked is Asked.GROUP else 1)
    may = set(Decision) - ({Decision.CONFIRM} if asked is Asked.BY_HAND else set())
    question = Question(asked, base.members, entry_of(base.members[0]), may=frozenset(may))
    line = keys_line(question)
    assert ("y confirm" in line) == (asked is not Asked.BY_HAND)
    for part in line.split(" · "):
        key = part.split()[0]
        assert key[:1].isdigit() or any(key == known.split()[0] for known in KEY_HELP)

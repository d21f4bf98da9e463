"""Whether a connector does for a use: every reason is named, what is unknown never counts for it."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stampreader.fit import Candidate, Gate, Use, gate_does, mark_does, shape_does, unfit
from stampreader.words import Slot

GOOD = Candidate(
    "C-1", (), "screw gate", "pear", ("CE 9123", "EN 12275:2013/H"),
    Decimal(22), Decimal(7), Decimal(6),
)  # fmt: skip
BELAY = Use("belay", gate=Gate.LOCKING, shapes=("pear", "hms"), instead_of_shape=("EN 12275/H",))


def made(**changed):
    """The good connector with something else."""
    return Candidate(**{**{name: getattr(GOOD, name) for name in GOOD.__slots__}, **changed})


CASES = {
    "fit": (GOOD, BELAY, []),
    "barred": (made(bars=("quarantined",)), BELAY, ["quarantined"]),
    "gate": (made(gate="wire gate"), BELAY, ["its gate does not lock (wire gate)"]),
    "gate not recorded": (
        made(gate=""), BELAY, ["whether its gate locks is not recorded (no kind of gate)"],
    ),
    "gate in words nobody knows": (
        made(gate="lovely"), BELAY, ["whether its gate locks is not recorded (lovely)"],
    ),
    "locks by hand only": (
        GOOD, Use("x", gate=Gate.SELF_LOCKING), ["its gate does not lock by itself (screw gate)"],
    ),
    "locks by itself": (made(gate="twist lock"), Use("x", gate=Gate.SELF_LOCKING), []),
    "shape by mark": (made(shape="D"), BELAY, []),
    "shape": (
        made(shape="D", marks=("CE 9123",)), BELAY,
        ["its shape is D, not pear or hms or marked EN 12275/H"],
    ),
    "shape not recorded": (
        made(shape="", marks=()), BELAY,
        ["its shape is not recorded, not pear or hms or marked EN 12275/H"],
    ),
    "mark of a department": (GOOD, Use("x", one_of=("NFPA T", "NFPA G")), ["no mark NFPA T or NFPA G"]),
    "all marks": (GOOD, Use("x", all_of=("CE", "UIAA", "EN 362")), ["no mark UIAA", "no mark EN 362"]),
    "third party": (
        made(marks=("EN 362:2004/B",)), Use("x", third_party=True), ["no third-party mark"],
    ),
    "too weak": (
        GOOD, Use("x", least={Slot.CLOSED: Decimal(23), Slot.OPEN: Decimal(6)}),
        ["closed strength is 22 kN, 23 kN or more is asked"],
    ),
    "unknown figure": (
        made(open=None), Use("x", least={Slot.OPEN: Decimal(6)}),
        ["open strength is not known, 6 kN or more is asked"],
    ),
    "everything at once": (
        Candidate("C-2", ("lost", "overdue")), BELAY,
        ["lost", "overdue", "whether its gate locks is not recorded (no kind of gate)",
         "its shape is not recorded, not pear or hms or marked EN 12275/H"],
    ),
}  # fmt: skip


@pytest.mark.parametrize(("candidate", "use", "reasons"), CASES.values(), ids=CASES)
def test_reasons(candidate, use, reasons):
    """Each reason is named once; none means it qualifies."""
    assert reasons == list(unfit(candidate, use))


MARKS = [
    ("NFPA G", "NFPA 1983 G", True),
    ("NFPA G", "NFPA 2500 G", True),
    ("NFPA G", "NFPA 2500 T", False),
    ("NFPA T", "NFPA 2500", False),
    ("EN 362", "EN 362:2004/B", True),
    ("EN 362/B", "EN 362:2004/B", True),
    ("EN 362/T", "EN 362:2004/B", False),
    ("EN 362:2004", "EN 362:2004/B", True),
    ("EN 12275:1998", "EN 12275:2013/H", False),
    ("EN 12275:2013", "EN 12275/H", False),
    ("EN 12275/H", "EN 362:2004/B", False),
    ("CE", "CE 9123", True),
    ("CE", "CE", True),
    ("CE 9123", "CE 9124", False),
    ("CE 9123", "CE 9123", True),
    ("CE", "UKCA 9123", False),
    ("UIAA", "UIAA", True),
    ("UIAA", "CE 9123", False),
    ("ANSI Z359.12", "ANSI Z359.12", True),
]


@pytest.mark.parametrize(("rule", "mark", "does"), MARKS, ids=[f"{r} by {m}" for r, m, _ in MARKS])
def test_which_mark_does(rule, mark, does):
    """What the rule leaves open may be anything; what it names must be stamped."""
    assert does is mark_does(rule, mark)


SHAPES = [
    ("pear", True),
    ("Pear (HMS)", True),
    ("hms", True),
    ("large pear", True),
    ("pearl", False),
    ("D", False),
    ("", False),
]


@pytest.mark.parametrize(("shape", "does"), SHAPES)
def test_a_word_of_the_rule_stands_in_the_shape(shape, does):
    """Whole words count, in either case."""
    assert does is shape_does(shape, BELAY)


def test_a_rule_of_two_words():
    """`wide top` is looked for as two words beside each other."""
    wide = Use("x", shapes=("wide top",))
    assert shape_does("D, wide top", wide) and not shape_does("wide, flat top", wide)


@given(st.text(max_size=20))
def test_a_gate_nobody_knows_never_locks(text):
    """Only words that say how a gate locks count; any gate does where none is asked."""
    from stampreader.standards import Locking, locking_of

    locks = locking_of(text) in (Locking.MANUAL, Locking.AUTO)
    assert locks is gate_does(text, BELAY)
    assert gate_does(text, Use("x"))

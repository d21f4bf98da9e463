"""Rules of uses: the shipped ones, a team's own, and what is refused."""

from decimal import Decimal
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stampreader.errors import UsageError
from stampreader.fit import Gate, RulesError, find_use, merged, read_uses
from stampreader.words import Slot

SHIPPED = read_uses(files("stampreader.fit").joinpath("uses.toml").read_text("utf-8"), "shipped")


def test_the_shipped_rules():
    """Life support locks; a belay wants a wide top as well; the departments' marks are there."""
    assert {
        "life-support", "belay", "fall-protection", "nfpa-technical", "nfpa-general", "gear",
    } == set(SHIPPED)  # fmt: skip
    assert Gate.LOCKING is SHIPPED["life-support"].gate
    assert ("pear", "hms", "wide top") == SHIPPED["belay"].shapes
    assert ("EN 12275/H",) == SHIPPED["belay"].instead_of_shape
    assert ("NFPA T", "NFPA G") == SHIPPED["nfpa-technical"].one_of
    assert Gate.ANY is SHIPPED["gear"].gate


def test_no_shipped_rule_invents_a_figure():
    """The shipped rules ask no minimum strength: none is sourced; a team sets its own."""
    assert [{}] * len(SHIPPED) == [dict(use.least) for use in SHIPPED.values()]


@pytest.mark.parametrize("name", SHIPPED)
def test_every_rule_says_what_and_why(name):
    """Each has a title and a reason with its source, or says that it has none."""
    use = SHIPPED[name]
    assert use.title and use.because.endswith(".")
    said = ("published", "publications", "bulletins", "no source", "Nothing is asked")
    assert any(word in use.because for word in said)


OWN = """
[life-support]
title = "Ours"
gate = "self-locking"
shape = ["Offset  D"]
one-of = ["NFPA G", "CE"]
all-of = ["EN 362/B", "UIAA"]
third-party = true
least = { closed = 25, open = 7.5 }

[night-line]
title = "Own use"
"""


def test_a_team_has_its_own_rules():
    """A use of the same name takes the place of the shipped one, whole; others are added."""
    uses = merged(SHIPPED, read_uses(OWN, "uses.toml"))
    use = uses["life-support"]
    assert ("Ours", Gate.SELF_LOCKING, ("offset d",), True) == (
        use.title, use.gate, use.shapes, use.third_party,
    )  # fmt: skip
    assert {Slot.CLOSED: Decimal(25), Slot.OPEN: Decimal("7.5")} == dict(use.least)
    assert "night-line" in uses and "belay" in uses


def test_a_use_is_found_by_its_name():
    """Blanks and capitals do not matter; an unknown one names those there are."""
    assert "life-support" == find_use(SHIPPED, "Life  Support").name
    with pytest.raises(UsageError, match="no use 'picnic'") as caught:
        find_use(SHIPPED, "picnic")
    assert "belay" in caught.value.line()


BAD = {
    "not TOML": "[belay",
    "a value without a table": "belay = 3",
    "an unknown rule": "[belay]\ncolour = 'red'",
    "an unknown gate": "[belay]\ngate = 'magic'",
    "a gate that is no text": "[belay]\ngate = 3",
    "shape is no list": "[belay]\nshape = 'pear'",
    "an empty shape": "[belay]\nshape = ['']",
    "a number among the shapes": "[belay]\nshape = [3]",
    "an unknown mark": "[belay]\none-of = ['EN 362', 'XYZ 1']",
    "an unknown direction": "[belay]\nleast = { sideways = 20 }",
    "a strength as text": "[belay]\nleast = { closed = '20' }",
    "a strength of nothing": "[belay]\nleast = { closed = 0 }",
    "a negative strength": "[belay]\nleast = { closed = -1 }",
    "a strength nobody makes": "[belay]\nleast = { closed = 2000 }",
    "a truth as strength": "[belay]\nleast = { closed = true }",
    "not a number": "[belay]\nleast = { closed = nan }",
    "endless": "[belay]\nleast = { closed = inf }",
    "third-party as text": "[belay]\nthird-party = 'yes'",
    "a name with blanks": "['the belay']\ntitle = 'x'",
    "a name with a colon": "['belay:3']\ntitle = 'x'",
}


@pytest.mark.parametrize("text", BAD.values(), ids=BAD)
def test_rules_that_are_none_are_refused(text):
    """One line that names the file, the place and what to do; exit status 2."""
    with pytest.raises(RulesError, match=r"uses\.toml") as caught:
        read_uses(text, "uses.toml")
    assert "\n" not in caught.value.line() and 2 == caught.value.status


@given(st.text(max_size=60))
def test_any_text_is_rules_or_refused(text):
    """No text crashes the reading of rules."""
    try:
        read_uses(text, "uses.toml")
    except RulesError as error:
        assert error.line()

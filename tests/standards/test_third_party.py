"""Marks that somebody other than the maker stands behind, and who asks for which interval."""

import pytest

from stampreader.standards import (
    REGIMES,
    SOURCES,
    Confidence,
    is_third_party,
    third_party_marks,
)
from stampreader.standards.third_party import BODIES

MARKS = {
    # The four digits beside CE are the number of the body that watches production
    # (Regulation (EU) 2016/425, in guides of notified bodies).
    "CE 9123": True,
    "UKCA 9321": True,
    "CE": False,
    "CE 912": False,
    # The UIAA label presupposes CE (a Canadian provincial regulator's bulletin).
    "UIAA": True,
    # Certification by a third party is compulsory under NFPA 1983 (engineers of a test house; weak).
    "NFPA 1983 G": True,
    "NFPA 2500 T": True,
    # The number of a standard is the maker's own claim.
    "EN 362:2004/B": False,
    "EN 12275:2013/H": False,
    "ANSI Z359.12": False,
    "ASTM F1774": False,
    "no mark at all": False,
}


@pytest.mark.parametrize(("mark", "counts"), MARKS.items())
def test_which_marks_count(mark, counts):
    """A third party's mark is told from a maker's claim."""
    assert counts is is_third_party(mark)


def test_marks_that_count_are_given_in_order():
    """Of several marks those of third parties are named; none is an empty answer."""
    marks = ("EN 12275:2013/H", "CE 9123", "UIAA")
    assert ("CE 9123", "UIAA") == third_party_marks(marks)
    assert () == third_party_marks(("EN 362:2004/B", "CE"))


def test_every_body_has_a_source():
    """What counts and why can be followed up."""
    assert all(key in SOURCES for _, _, key in BODIES)


def test_who_asks_for_which_interval():
    """EN 365 and Z359: 12 months; LOLER for lifting people, rope access and A10.32: 6."""
    months = {regime.who.split(" (")[0].split(":")[0]: regime.months for regime in REGIMES}
    assert 12 == months["EN 365"] == months["ANSI/ASSP Z359 family"]
    assert 6 == months["Rope access"] == months["ANSI A10.32"]
    lifting = [r.months for r in REGIMES if "LOLER" in r.who]
    assert [6, 12] == lifting


@pytest.mark.parametrize("regime", REGIMES, ids=lambda r: r.who)
def test_every_demand_has_its_source(regime):
    """What is only from memory says so."""
    assert regime.asks and regime.source
    assert (regime.confidence is Confidence.MEMORY) == regime.source.startswith("from memory")

from __future__ import annotations

import string
from itertools import pairwise

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from stampreader.marks import normal_form


def texts(text: str) -> list[str]:
    """Normal forms of the marks in typed text."""
    return [mark.text for mark in normal_form(text)]


# How marks are written on metal is common practice, no source. The standards' numbers, parts and
# years of issue are those of the catalogue entries listed beside each block.
CASES = {
    # CE with the four-digit number of a body: Regulation (EU) 2016/425, article 17
    "ce": ("CE 9123", ["CE 9123"]),
    "ce-without-space": ("CE9123", ["CE 9123"]),
    "ce-on-two-lines": ("CE\n9123", ["CE 9123"]),
    "ukca": ("UKCA 9120", ["UKCA 9120"]),
    # EN 362:2004, connectors for fall protection; classes A, B, M, Q, T
    "en-362": ("EN 362:2004/B", ["EN 362:2004/B"]),
    "en-362-short-year": ("EN362:04 B", ["EN 362:2004/B"]),
    "en-362-without-year": ("EN 362/B", ["EN 362/B"]),
    "en-362-dash": ("EN362-2004-T", ["EN 362:2004/T"]),
    "en-362-class-word": ("EN 362 CLASS M", ["EN 362/M"]),
    "en-362-bare": ("EN 362", ["EN 362"]),
    "en-362-on-two-lines": ("EN\n362:2004/Q", ["EN 362:2004/Q"]),
    "en-362-national-prefix": ("BS EN 362:2004/A", ["EN 362:2004/A"]),
    "en-362-lower-case": ("en 362:2004/b", ["EN 362:2004/B"]),
    # EN 12275:2013, mountaineering connectors; classes A, B, H, K, Q, T, X (D in 1998)
    "en-12275": ("EN 12275:2013/H", ["EN 12275:2013/H"]),
    "en-12275-type": ("EN 12275 TYPE B", ["EN 12275/B"]),
    "en-12275-ringed": ("EN 12275 (K)", ["EN 12275/K"]),
    "en-12275-run-together": ("EN12275:13X", ["EN 12275:2013/X"]),
    "en-12275-old": ("EN 12275:98 D", ["EN 12275:1998/D"]),
    # UIAA 121
    "uiaa": ("UIAA", ["UIAA"]),
    "uiaa-121": ("UIAA 121", ["UIAA 121"]),
    # NFPA 1983, since 2022 in NFPA 2500
    "nfpa-2500": ("NFPA 2500 T", ["NFPA 2500 T"]),
    "nfpa-1983": ("NFPA 1983 G", ["NFPA 1983 G"]),
    "nfpa-edition": ("NFPA 1983 (2012 ED.) G", ["NFPA 1983 (2012) G"]),
    "nfpa-meets": ("MEETS NFPA 1983 (2012 ED)", ["NFPA 1983 (2012)"]),
    "nfpa-words": ("NFPA 1983 GENERAL USE", ["NFPA 1983 G"]),
    # ANSI/ASSP Z359.12-2019
    "ansi": ("ANSI Z359.12", ["ANSI Z359.12"]),
    "ansi-assp": ("ANSI/ASSP Z359.12-2019", ["ANSI Z359.12-2019"]),
    "ansi-asse": ("ANSI/ASSE Z359.12-09", ["ANSI Z359.12-2009"]),
    # AS/NZS 4488, AS/NZS 1891
    "as-nzs": ("AS/NZS 4488", ["AS/NZS 4488"]),
    "as-nzs-part": ("AS/NZS 1891.4:2009", ["AS/NZS 1891.4:2009"]),
    # CSA Z259.12, ASTM F1774 and F1956, ISO 10333-5:2001, GOST R EN 362-2008
    "csa": ("CSA Z259.12", ["CSA Z259.12"]),
    "csa-year": ("CSA Z259.12-16", ["CSA Z259.12-2016"]),
    "astm": ("ASTM F1774", ["ASTM F1774"]),
    "astm-year": ("ASTM F1956-13", ["ASTM F1956-2013"]),
    "iso": ("ISO 10333-5:2001", ["ISO 10333-5:2001"]),
    "gost": ("GOST R EN 362-2008", ["GOST R EN 362-2008"]),
    "eac": ("EAC", ["EAC"]),
    # words
    "sigma": ("3 SIGMA", ["3 SIGMA"]),
    "not-for-climbing": ("NOT FOR\nCLIMBING", ["NOT FOR CLIMBING"]),
    # several
    "several": (
        "CE 9123 EN 362:2004/B EN 12275:2013/B UIAA",
        ["CE 9123", "EN 362:2004/B", "EN 12275:2013/B", "UIAA"],
    ),
    "run-together": ("UIAACE9123EN362", ["UIAA", "CE 9123", "EN 362"]),
    "half-a-year": ("EN 362:20", ["EN 362"]),
    "with-figures": ("CE 9123 27kN 8kN 7kN UIAA", ["CE 9123", "UIAA"]),
}


@pytest.mark.parametrize(("text", "expected"), CASES.values(), ids=CASES.keys())
def test_marks_as_they_are_written(text: str, expected: list[str]) -> None:
    """Each way of writing a mark comes out in its one normal form."""
    assert expected == texts(text)


NONE = {
    "ce-three-digits": "CE 912",
    "ce-five-digits": "CE 91234",
    "ce-alone": "CE",
    "ce-with-a-letter": "CE 91O3",
    "ce-inside-a-word": "PEACE 9123",
    "another-en": "EN 99999",
    "en-362-with-one-more-digit": "EN 3621",
    "class-in-a-word": "EN",
    "nfpa-alone": "NFPA",
    "ansi-other": "ANSI B30",
    "eac-in-a-word": "BEACON",
    "figures": "27kN 8kN 7kN",
    "serial": "SN 482716",
    "date": "03/2019",
    "slash-without-class": "EN 362:2004/",
    "nothing": "",
    "dashes": "- / : .",
}


@pytest.mark.parametrize("text", NONE.values(), ids=NONE.keys())
def test_what_is_not_a_whole_mark_gives_none(text: str) -> None:
    """Half a mark, another number, or a word that contains one: nothing is reported."""
    assert [] == texts(text)


@pytest.mark.parametrize("text", sorted({form for _, forms in CASES.values() for form in forms}))
def test_a_normal_form_is_its_own_normal_form(text: str) -> None:
    """Reading a normal form gives exactly itself."""
    assert [text] == texts(text)


def _optional(part: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    return st.one_of(st.just(""), part)


four = st.text(string.digits, min_size=4, max_size=4)
MARKS = st.one_of(
    four.map(lambda d: f"CE {d}"),
    four.map(lambda d: f"UKCA {d}"),
    st.builds(
        lambda y, c: f"EN 362{y}{c}",
        _optional(st.sampled_from([":2004", ":1992"])),
        _optional(st.sampled_from(["/A", "/B", "/M", "/Q", "/T"])),
    ),
    st.builds(
        lambda y, c: f"EN 12275{y}{c}",
        _optional(st.sampled_from([":2013", ":1998"])),
        _optional(st.sampled_from(["/A", "/B", "/H", "/K", "/Q", "/T", "/X"])),
    ),
    st.builds(
        lambda n, y, c: f"NFPA {n}{y}{c}",
        st.sampled_from(["1983", "2500"]),
        _optional(st.integers(1995, 2025).map(lambda y: f" ({y})")),
        _optional(st.sampled_from([" G", " T", " L", " P", " E"])),
    ),
    st.builds(
        lambda p, y: f"ANSI Z359.{p}{y}",
        st.integers(1, 18).map(str),
        _optional(st.integers(1990, 2025).map(lambda y: f"-{y}")),
    ),
    st.sampled_from(["UIAA", "UIAA 121", "EAC", "3 SIGMA", "NOT FOR CLIMBING", "AS/NZS 4488"]),
)


@settings(max_examples=200, deadline=None)
@given(MARKS)
def test_every_mark_survives_a_round_trip(text: str) -> None:
    """normal_form(mark.text) == mark, for any mark the grammar can write."""
    (mark,) = normal_form(text)
    assert (text, 1.0) == (mark.text, mark.confidence)
    assert (mark,) == normal_form(mark.text)


@settings(max_examples=100, deadline=None)
@given(st.lists(MARKS, min_size=1, max_size=4))
def test_marks_one_below_the_other_are_all_found(marks: list[str]) -> None:
    """Each mark on its own line is found, in order, and nothing else.

    A bare CE or EN number could go on in the next line; these here are whole.
    """
    assume(not any(a == "UIAA" and b.startswith("121") for a, b in pairwise(marks)))
    assert [m.split("/")[0][:6] for m in marks] == [
        m.split("/")[0][:6] for m in texts("\n".join(marks))
    ]


@settings(max_examples=300, deadline=None)
@given(st.text(string.ascii_uppercase + string.digits + " ./:-\n", max_size=40))
def test_any_text_is_taken_without_fail(text: str) -> None:
    """Whatever is typed gives marks that are their own normal form, with a probability."""
    for mark in normal_form(text):
        assert 0.0 < mark.confidence <= 1.0
        assert mark.text in texts(mark.text)


@settings(max_examples=200, deadline=None)
@given(st.text(string.ascii_uppercase + string.digits, max_size=12))
def test_digits_of_a_ce_number_are_never_made_up(text: str) -> None:
    """A CE number contains only digits that stand in the text, in this order."""
    for mark in normal_form("CE " + text):
        if mark.text.startswith("CE "):
            assert text.startswith(mark.text[3:])

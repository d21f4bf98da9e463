"""Margins: worked examples of the trade, traps across units, and laws that hold for any figures."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stampreader.errors import UsageError
from stampreader.margin import (
    Strengths,
    Verdict,
    judge_connector,
    judge_slot,
    parse_figures,
    parse_ratio,
    weakest_first,
)
from stampreader.units import Strength, parse_load, parse_strength
from stampreader.words import Slot

figures = st.decimals(min_value="0.1", max_value=100, places=1)
loads = st.decimals(min_value="0.01", max_value=50, places=2)
ratios = st.decimals(min_value=1, max_value=30, places=1)


def closed(strength: str | None, load: str, ratio: str = "10"):
    """The margin of one closed figure under a typed load."""
    stamped = None if strength is None else parse_strength(strength)
    return judge_slot(Slot.CLOSED, stamped, parse_load(load).kN, parse_ratio(ratio))


# --- allowed load ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("strength", "ratio", "allowed_kN"),
    [
        # Common practice, no source: a tenth of the figure at 10:1.
        ("27", "10", "2.70"),
        ("8", "10", "0.80"),
        ("7", "10", "0.70"),
        # A rope-rescue article of 2019 on the origin of 15:1, which says the words stood in the
        # 1995 edition of NFPA 1983: 15 x 600 lbf = 9,000 lbf, about 40 kN; 15 x 300 = 4,500 lbf.
        ("9000 lbf", "15", "2.66"),
        ("4500 lbf", "15", "1.33"),
        # Rounded down, never up: 22 / 15 = 1.4666..., 8 / 15 = 0.5333...
        ("22", "15", "1.46"),
        ("8", "15", "0.53"),
    ],
)
def test_allowed_load_at_the_ratio(strength, ratio, allowed_kN):
    """The load allowed is the strength over the ratio, rounded down."""
    assert Decimal(allowed_kN) == closed(strength, "1 kN", ratio).allowed_kN


@pytest.mark.parametrize(
    ("strength", "lbf", "people"),
    [
        # lbf by the constants of NIST SP 811 B.8: 2.7 kN = 606.98, 0.8 = 179.8, 0.7 = 157.4.
        ("27", "606", 2),
        ("8", "179", 0),
        ("7", "157", 0),
        # Ten people's weight of 1.0 kN each at 10:1 needs 100 kN (common practice, no source).
        ("100", "2248", 10),
    ],
)
def test_allowed_load_in_pounds_and_people(strength, lbf, people):
    """Pounds and people are cut off, so that neither promises more than the kilonewtons."""
    row = closed(strength, "1 kN")
    assert (Decimal(lbf), people) == (row.allowed_lbf, row.allowed_people)


# --- margins and verdicts ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("strength", "load", "margin", "keeps_15"),
    [
        # Arithmetic with the exact constants of NIST SP 811 B.8 (lbf and kg) and the usual
        # two-person fire-service load of 600 lbf; the unrounded quotient stands behind.
        ("40 kN", "600 lbf", "14.98", False),  # 14.9873
        ("9000 lbf", "600 lbf", "15.00", True),  # exactly 15
        ("40 kN", "280 kg", "14.56", False),  # 14.5673
        ("20 kN", "2 kN", "10.00", False),
        ("20 kN", "200 kg", "10.19", False),  # 10.1971
        ("30 kN", "2 kN", "15.00", True),
        ("29.99 kN", "2 kN", "14.99", False),  # 14.995 would round to 15.00
    ],
)
def test_margin_traps_across_units(strength, load, margin, keeps_15):
    """The margin shown rounds down, and the verdict compares what is not rounded."""
    row = closed(strength, load, "15")
    assert Decimal(margin) == row.margin
    assert keeps_15 == (row.verdict is Verdict.ALLOWED)


def test_ten_to_one_is_kept_at_exactly_ten():
    """20 kN under 2 kN is exactly 10 and keeps 10:1; under 2.001 kN it does not."""
    assert Verdict.ALLOWED is closed("20", "2 kN").verdict
    assert Verdict.NOT_ALLOWED is closed("20", "2.001 kN").verdict


@pytest.mark.parametrize(
    ("situation", "force", "closed_margin", "side_margin"),
    [
        # Derived: 22/7/7 kN and a load of 2 kN; force = load x factor. The factors of two equal
        # legs, 1/(2 cos(angle/2)), and of a redirect, 2 cos(angle/2), stand in a national park
        # service's technical rescue handbook (11th edition, 2014); the rest is statics.
        # Margins are cut, not rounded: 22/1.1547 = 19.0526 is 19.05, 22/5.099 = 4.3145 is 4.31.
        ("single hang", 2.0, "11.00", "3.50"),
        ("leg of a V, 60 degrees", 2 * 0.57735026919, "19.05", "6.06"),
        ("leg of a V, 90 degrees", 2 * 0.70710678119, "15.55", "4.94"),
        ("leg of a V, 120 degrees", 2.0, "11.00", "3.50"),
        ("redirect, strands 90 degrees apart", 2 * 1.41421356238, "7.77", "2.47"),
        ("redirect, strands parallel", 4.0, "5.50", "1.75"),
        ("anchor pulley of a 3:1", Fraction(4, 3), "16.50", "5.25"),
        ("end of a line with 10 % sag", 2 * 2.54950975680, "4.31", "1.37"),
    ],
    ids=lambda value: value if isinstance(value, str) and " " in value else "",
)
def test_end_to_end_rows(situation, force, closed_margin, side_margin):
    """The margins of a 22/7/7 connector where it hangs in a system; no row keeps 10:1 sideways."""
    rows = judge_connector(
        situation, parse_figures("22/7/7"), Fraction(force).limit_denominator(10**9), Decimal(10)
    )
    shown = [str(slot.margin) for slot in rows.slots]
    assert [closed_margin, side_margin, side_margin] == shown
    assert Verdict.NOT_ALLOWED is rows.slots[1].verdict is rows.slots[2].verdict


def test_missing_figure_is_unknown_and_not_allowed():
    """Without a figure there is no margin, no allowance and no leave, not a zero."""
    row = closed(None, "1 kN")
    assert Verdict.UNKNOWN is row.verdict
    assert "not allowed" in row.verdict
    assert [None] * 4 == [row.margin, row.allowed_kN, row.allowed_lbf, row.allowed_people]


def test_no_load_is_allowed_and_has_no_margin():
    """A strand that carries nothing leaves no quotient to show; a known strength keeps any ratio."""
    row = judge_slot(Slot.CLOSED, Strength(Decimal(20)), Decimal(0), Decimal(10))
    assert (None, Verdict.ALLOWED) == (row.margin, row.verdict)


def test_a_known_direction_does_not_stand_in_for_an_unknown_one():
    """A quick link stamped 25/10 has no gate-open figure; the connector as a whole is not allowed."""
    link = judge_connector("link", parse_figures("25/10/-"), Decimal("0.5"), Decimal(10))
    assert [Verdict.ALLOWED, Verdict.ALLOWED, Verdict.UNKNOWN] == [s.verdict for s in link.slots]
    assert Verdict.UNKNOWN is link.verdict
    assert Slot.OPEN is link.weakest.slot


def test_only_the_directions_asked_for_are_judged():
    """Judged closed and cross-loaded only, the same quick link is allowed."""
    slots = (Slot.CLOSED, Slot.CROSS)
    link = judge_connector(
        "link", parse_figures("25/10/-"), Decimal("0.5"), Decimal(10), slots=slots
    )
    assert Verdict.ALLOWED is link.verdict


def test_weakest_first():
    """Unknown figures come first, then the connector whose weakest direction allows least."""
    given = {"a": "27/8/7", "b": "40/11/11", "c": "25/10/-", "d": "27/7/7", "e": "25/7/7"}
    judged = [
        judge_connector(name, parse_figures(f), Decimal(1), Decimal(10))
        for name, f in given.items()
    ]
    assert ["c", "e", "d", "a", "b"] == [c.name for c in weakest_first(judged)]


# --- refusals ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "ratio", ["0", "0.0", "-10", "", "x", "1:10", "0.5", "10:2", "nan", "1001"]
)
def test_ratios_that_are_refused(ratio):
    """A ratio of nothing, below 1 or not a number is refused with what to write instead."""
    with pytest.raises(UsageError) as caught:
        parse_ratio(ratio)
    assert caught.value.remedy


@pytest.mark.parametrize(
    ("text", "ratio"), [("10", "10"), ("15:1", "15"), ("12.5", "12.5"), (" 8 :1", "8")]
)
def test_ratios_that_are_understood(text, ratio):
    """A ratio may be typed with or without ':1'."""
    assert Decimal(ratio) == parse_ratio(text)


@pytest.mark.parametrize(
    "text",
    [
        "27",
        "27/8",
        "27/8/7/6",
        "a/b/c",
        "-/-/-",
        "27/-8/7",
        "0/8/7",
        "27/8/7 people",
        "27/8/7 m",
        "",
        "//",
        "9,000/8/7",
    ],
)
def test_figures_that_are_refused(text):
    """Anything but three figures, one at least known, is refused with how to write them."""
    with pytest.raises(UsageError) as caught:
        parse_figures(text)
    assert caught.value.remedy


@pytest.mark.parametrize(
    ("text", "strengths"),
    [
        ("27/8/7", Strengths.from_kN(Decimal(27), Decimal(8), Decimal(7))),
        ("25/10/-", Strengths.from_kN(Decimal(25), Decimal(10))),
        ("25 / 10 / ?", Strengths.from_kN(Decimal(25), Decimal(10))),
        ("22/7/7 kN", Strengths.from_kN(Decimal(22), Decimal(7), Decimal(7))),
        (
            "9000/2400/- lbf",
            Strengths(Strength(Decimal(9000), "lbf"), Strength(Decimal(2400), "lbf")),
        ),
        ("40kN/2400lbf/-", Strengths(Strength(Decimal(40)), Strength(Decimal(2400), "lbf"))),
    ],
)
def test_figures_that_are_understood(text, strengths):
    """Three figures, a dash for one that is missing, a unit for all or for each."""
    assert strengths == parse_figures(text)


@pytest.mark.parametrize(
    ("load", "ratio", "person", "strength"),
    [
        ("-1", "10", "1", "20"),
        ("1", "0.99", "1", "20"),
        ("1", "10", "0", "20"),
        ("1", "10", "1", "0"),
        ("1", "10", "1", "-7"),
    ],
)
def test_values_without_sense_are_refused(load, ratio, person, strength):
    """The arithmetic itself refuses what no person should be able to ask."""
    with pytest.raises(UsageError):
        judge_slot(
            Slot.CLOSED, Strength(Decimal(strength)), Decimal(load), Decimal(ratio), Decimal(person)
        )


# --- laws --------------------------------------------------------------------------------------


@given(figures, loads, ratios)
def test_verdict_is_the_exact_quotient(strength, load, ratio):
    """Allowed exactly if strength >= ratio x load, in whole numbers without any rounding."""
    row = judge_slot(Slot.CLOSED, Strength(strength), load, ratio)
    whole = int(strength * 10) * 1000 >= int(ratio * 10) * int(load * 100) * 10
    assert whole == (row.verdict is Verdict.ALLOWED)


@given(figures, loads, ratios)
def test_what_is_shown_is_never_too_good(strength, load, ratio):
    """Margin and allowance as shown are not above the exact ones, and by less than one step."""
    row = judge_slot(Slot.CLOSED, Strength(strength), load, ratio)
    step = Fraction(1, 100)
    assert 0 <= Fraction(strength) / Fraction(load) - Fraction(row.margin) < step
    assert 0 <= Fraction(strength) / Fraction(ratio) - Fraction(row.allowed_kN) < step


@given(figures, ratios)
def test_the_load_shown_as_allowed_is_allowed(strength, ratio):
    """Hanging the very load shown as allowed keeps the ratio; 0.01 kN more does not."""
    shown = judge_slot(Slot.CLOSED, Strength(strength), Decimal(1), ratio).allowed_kN
    at = judge_slot(Slot.CLOSED, Strength(strength), shown, ratio)
    beyond = judge_slot(Slot.CLOSED, Strength(strength), shown + Decimal("0.01"), ratio)
    assert (Verdict.ALLOWED, Verdict.NOT_ALLOWED) == (at.verdict, beyond.verdict)


@given(figures, loads, ratios, st.integers(2, 9))
def test_margin_scales_with_the_load(strength, load, ratio, times):
    """So many times the load leaves the same part of the margin."""
    one = judge_slot(Slot.CLOSED, Strength(strength), load, ratio).exact
    many = judge_slot(Slot.CLOSED, Strength(strength), load * times, ratio).exact
    assert one == many * times


@given(
    st.lists(st.tuples(figures, st.none() | figures, st.none() | figures), min_size=1, max_size=6)
)
def test_order_does_not_depend_on_the_order_given(rows):
    """The weakest allowances rise along the list, whichever way the connectors were named."""
    judged = [
        judge_connector("x", Strengths.from_kN(*row), Decimal(1), Decimal(10)) for row in rows
    ]
    forth, back = weakest_first(judged), weakest_first(reversed(judged))
    least = [c.weakest.allowed or 0 for c in forth]
    assert sorted(least) == least == [c.weakest.allowed or 0 for c in back]

"""Units: the constants against NIST and against `pint`, what may be typed, rounding to safety."""

from decimal import Decimal
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stampreader.errors import UsageError
from stampreader.units import (
    KN_PER,
    KGF_kN,
    LBF_kN,
    MOST_kN,
    Strength,
    in_lbf,
    in_people,
    parse_load,
    parse_number,
    parse_person,
    parse_strength,
    round_down,
    round_up,
)

exact_units = pint.UnitRegistry(non_int_type=Decimal)
PINT_NAMES = {"kN": "kN", "N": "N", "daN": "daN", "kgf": "kgf", "lbf": "lbf"}

typed_numbers = st.decimals(min_value="0.01", max_value="999", places=2)


# --- constants ---------------------------------------------------------------------------------


def test_pound_force_is_the_exact_product():
    """NIST SP 811 B.8 (2008), footnote: 1 lbf = 4.448 221 615 260 5 N exactly."""
    assert Decimal("4.4482216152605") == LBF_kN * 1000


def test_kilogram_force_is_standard_gravity():
    """NIST SP 811 B.8: 1 kgf = 1 kilopond = 9.806 65 N exactly (3rd CGPM, 1901)."""
    assert Decimal("9.80665") == KGF_kN * 1000


@pytest.mark.parametrize("unit", sorted(KN_PER))
def test_constants_are_those_of_pint(unit):
    """Every unit converts as the `pint` library converts it, digit for digit."""
    theirs = exact_units.Quantity(Decimal(1), PINT_NAMES[unit]).to("kN").magnitude
    assert theirs == KN_PER[unit]


@pytest.mark.parametrize(
    ("kN", "lbf", "kgf"),
    [
        # Computed with pint's constants, one decimal; the usual figures of connectors.
        (5, "1124.0", "509.9"),
        (7, "1573.7", "713.8"),
        (11, "2472.9", "1121.7"),
        (15, "3372.1", "1529.6"),
        (16, "3596.9", "1631.5"),
        (20, "4496.2", "2039.4"),
        (22, "4945.8", "2243.4"),
        (25, "5620.2", "2549.3"),
        (27, "6069.8", "2753.2"),
        (40, "8992.4", "4078.9"),
    ],
)
def test_usual_figures_in_pounds_and_kilograms(kN, lbf, kgf):
    """Figures connectors are stamped with, in lbf and kgf, to one decimal; the source is pint."""
    pounds = exact_units.Quantity(Decimal(kN), "kN").to("lbf").magnitude
    kilograms = exact_units.Quantity(Decimal(kN), "kN").to("kgf").magnitude
    assert (Decimal(lbf), Decimal(kgf)) == (round(pounds, 1), round(kilograms, 1))
    assert abs(in_lbf(Decimal(kN)) - Fraction(lbf)) <= Fraction("0.05")
    assert abs(Fraction(kN) / Fraction(KGF_kN) - Fraction(kgf)) <= Fraction("0.05")


def test_one_kilonewton_is_about_225_pounds():
    """Rule of thumb of the trade (common practice, no source): 1 kN is about 225 lbf; 0.1 % off."""
    assert abs(in_lbf(Decimal(1)) / 225 - 1) < Fraction("0.001")


@given(typed_numbers, st.sampled_from(sorted(KN_PER)))
def test_any_load_converts_as_in_pint(amount, unit):
    """A typed load in any unit has the kilonewtons `pint` gives it, exactly."""
    theirs = exact_units.Quantity(amount, PINT_NAMES[unit]).to("kN").magnitude
    assert abs(theirs - parse_load(f"{amount} {unit}").kN) < Decimal("1e-20")


# --- what may be typed -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "kN"),
    [
        ("2 kN", "2"),
        ("2kN", "2"),
        ("  2.5   kN ", "2.5"),
        ("2,5 kN", "2.5"),
        (".5 kN", "0.5"),
        ("+2 kn", "2"),
        ("2000 N", "2"),
        ("200 daN", "2"),
        ("2 people", "2"),
        ("1 person", "1"),
        # The rest are exact products of the constants of NIST SP 811 B.8.
        ("200 kg", "1.96133"),
        ("200 kgf", "1.96133"),
        ("200 kp", "1.96133"),
        ("600 lbf", "2.6689329691563"),
        ("300 lb", "1.33446648457815"),
        ("450 lbs", "2.001699726867225"),
        ("280 kg", "2.745862"),
    ],
)
def test_loads_that_are_understood(text, kN):
    """Each way of writing a load gives its exact kilonewtons."""
    assert Decimal(kN) == parse_load(text).kN


def test_people_weigh_what_is_set():
    """Two people of 1.33 kN are 2.66 kN."""
    assert Decimal("2.66") == parse_load("2 people", Decimal("1.33")).kN


def test_load_keeps_what_was_typed():
    """Amount and unit stay as typed, so that the result can show them again."""
    assert "450 lbf" == str(parse_load("450 lbs"))


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("2", "has no unit"),
        ("450", "has no unit"),
        ("", "is empty"),
        ("   ", "is empty"),
        ("kN", "has no number"),
        ("people", "has no number"),
        ("-2 kN", "is negative"),
        ("\u22122 kN", "is negative"),
        ("- 2 kN", "is negative"),
        ("0 kN", "is zero"),
        ("0.000 lbf", "is zero"),
        ("nan kN", "is not understood"),
        ("NaN", "has no number"),
        ("inf kN", "is not understood"),
        ("1e3 kN", "is not understood"),
        ("2 kN 3", "is not understood"),
        ("two kN", "is not understood"),
        ("\u0662 kN", "is not understood"),
        ("2/3 kN", "is not understood"),
        ("1.2.3 kN", "is not a plain number"),
        (". kN", "is not a plain number"),
        ("2 stone", "has an unknown unit 'stone'"),
        ("2 m", "has an unknown unit 'm'"),
        ("2,000 lbf", "may mean thousands or a decimal comma"),
        ("1001 kN", "more than any connector carries"),
        ("99999999999 people", "more than any connector carries"),
        ("1234567890123 N", "has too many digits"),
        ("2 " + "x" * 500, "has an unknown unit"),
    ],
)
def test_loads_that_are_refused(text, why):
    """A load that cannot be understood is refused with its reason and a remedy on one short line."""
    with pytest.raises(UsageError, match=why) as caught:
        parse_load(text)
    assert 2 == caught.value.status
    assert caught.value.remedy
    assert "\n" not in caught.value.line() and len(caught.value.line()) < 250


@pytest.mark.parametrize(
    ("text", "amount", "unit"),
    [
        ("27", "27", "kN"),
        ("27 kN", "27", "kN"),
        ("22.2kN", "22.2", "kN"),
        ("9000 lbf", "9000", "lbf"),
        ("2000 kg", "2000", "kgf"),
        ("2000 daN", "2000", "daN"),
    ],
)
def test_strengths_keep_their_stamped_unit(text, amount, unit):
    """A strength stays in the unit it is stamped in; without a unit it is kN."""
    assert Strength(Decimal(amount), unit) == parse_strength(text)


@pytest.mark.parametrize(
    "text", ["", "0", "-7", "x", "3 people", "5000 kN", "7 m", "27/8", "0 kN", "1,500"]
)
def test_strengths_that_are_refused(text):
    """A strength of nothing, of people, or of no known unit is refused."""
    with pytest.raises(UsageError):
        parse_strength(text)


@pytest.mark.parametrize(
    ("text", "kN"),
    [("1", "1"), ("1.33 kN", "1.33"), ("100 kg", "0.980665"), ("300 lbf", "1.334467")],
)
def test_person_may_be_set_in_any_unit(text, kN):
    """The load of a person may be typed in any unit; a long product is rounded up."""
    assert Decimal(kN) == parse_person(text)


@pytest.mark.parametrize("text", ["2 people", "0", "", "-1 kN", "heavy"])
def test_person_that_is_refused(text):
    """A person is not measured in people, and weighs something."""
    with pytest.raises(UsageError):
        parse_person(text)


@given(st.text(max_size=40))
def test_any_text_gives_a_load_or_one_line(text):
    """Whatever is typed, there is a load above zero or one line saying why not."""
    try:
        load = parse_load(text)
    except UsageError as error:
        assert "\n" not in error.line() and error.remedy
    else:
        assert 0 < load.kN <= MOST_kN


@given(typed_numbers)
def test_point_and_comma_are_the_same(amount):
    """A decimal comma before two digits reads as a decimal point."""
    text = f"{amount:.2f}"
    assert parse_number(text, "n", "r") == parse_number(text.replace(".", ","), "n", "r")


# --- rounding ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "places", "down", "up"),
    [
        (Fraction(40) / Fraction("2.6689329691563"), 2, "14.98", "14.99"),
        (Fraction(1, 3), 3, "0.333", "0.334"),
        (Decimal("2.70"), 2, "2.70", "2.70"),
        (Decimal("606.98"), 0, "606", "607"),
        (Decimal("0.004"), 2, "0.00", "0.01"),
        (5, 1, "5.0", "5.0"),
    ],
)
def test_rounding_to_each_side(value, places, down, up):
    """What is allowed rounds down, what pulls rounds up, at the last digit shown."""
    assert (down, up) == (str(round_down(value, places)), str(round_up(value, places)))


@given(st.fractions(min_value=0, max_value=10**30), st.integers(0, 6))
def test_rounding_brackets_the_value(value, places):
    """Down is not above, up is not below, and the two are at most one step apart."""
    down, up = Fraction(round_down(value, places)), Fraction(round_up(value, places))
    assert down <= value <= up
    assert up - down in (0, Fraction(1, 10**places))


@given(st.decimals(min_value="0.01", max_value=900, places=2))
def test_pounds_there_and_back(kN):
    """kN to lbf and back is the same number, exactly."""
    assert Fraction(kN) == in_lbf(kN) * Fraction(LBF_kN)


@given(
    st.decimals(min_value="0.01", max_value=900, places=2), st.sampled_from(["0.8", "1.0", "1.33"])
)
def test_people_never_more_than_the_force_holds(kN, person):
    """The people counted weigh no more than the force, and one more would."""
    each = Decimal(person)
    count = in_people(kN, each)
    assert count * each <= kN < (count + 1) * each

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from laying import (
    SIZE,
    changed,
    judged,
    lay,
    states,
    transformed,
    upside_down_glyphs,
    values,
    without,
)
from scipy.special import softmax

from stampreader.figures import Caps, features, find_stamps, judge
from stampreader.figures.caps import tempered
from stampreader.figures.direction import UPSIDE_DOWN
from stampreader.marks import find_spans
from stampreader.words import SLOTS, Doubt, Glyph, Slot, State

STAMP = "{C}27kN {X}9.5kN {O}7kN"


def test_a_clear_stamp_seen_alike_by_two_readers_is_sure() -> None:
    """27, 9.5 and 7 with pictograms and units, both readers agreeing."""
    stamp = judged(lay(STAMP))
    assert ["27", "9.5", "7"] == values(stamp)
    assert [State.SURE] * 3 == states(stamp)
    assert State.SURE is stamp.outcome
    assert Decimal("9.5") == stamp.cross.kN


DOUBTS = {
    "one-reader": (lay(STAMP), [], Doubt.ONE_READER),
    "readers-disagree": (
        lay(STAMP), changed(lay(STAMP), 1, char="2", confidence=0.9)[:2] + changed(lay(STAMP), 2, char="1")[2:],
        Doubt.READERS_DISAGREE,
    ),
    "weak-glyph": (changed(lay(STAMP), 2, confidence=0.6), None, Doubt.WEAK_GLYPH),
    "no-pictogram": (lay("27kN"), None, Doubt.NO_PICTOGRAM),
    "order-only": (lay("27/8/7kN"), None, Doubt.ORDER_ONLY),
    "too-small": (lay(STAMP, height=7), None, Doubt.TOO_SMALL),
    "out-of-range": (lay("{C}99kN {X}9kN {O}7kN"), None, Doubt.OUT_OF_RANGE),
    "closed-is-not-the-largest": (lay("{C}8kN {X}27kN {O}7kN"), None, Doubt.OUT_OF_RANGE),
    "slot-conflict": (
        [replace(g, role=(0.01, 0.01, 0.01, 0.96, 0.01)) if g.char in "27" else g for g in lay("{C}27kN")],
        None, Doubt.SLOT_CONFLICT,
    ),
    "sign-seen-otherwise": (lay(STAMP), changed(lay(STAMP), 0, char="<open>"), Doubt.SLOT_CONFLICT),
    "turned": (lay(STAMP), upside_down_glyphs(lay(STAMP), UPSIDE_DOWN), Doubt.DIRECTION),
    "two-values": (lay("{C}27kN {C}22kN {X}8kN"), None, Doubt.TWO_VALUES),
}  # fmt: skip


@pytest.mark.parametrize(("first", "second", "doubt"), DOUBTS.values(), ids=DOUBTS.keys())
def test_each_named_doubt_keeps_closed_from_being_sure(
    first: list[Glyph], second: list[Glyph] | None, doubt: Doubt
) -> None:
    """However high the scores, a named doubt gives `ask` at most."""
    drafts = find_stamps(first, SIZE, find_spans)
    stamps = [judge(d, {"line": first if second is None else second}) for d in drafts]
    closed = [s.closed for s in stamps if s.closed.doubts]
    assert any(doubt in f.doubts for f in closed)
    assert all(f.state is not State.SURE for f in closed)


@pytest.mark.parametrize("number", ["6", "9", "8", "69", "18", "98"])
def test_a_lone_number_that_reads_upside_down_is_never_sure(number: str) -> None:
    """A pictogram and two agreeing readers do not tell 6 from 9."""
    for sign in ("{C}", "{O}", "{=}"):
        stamp = judged(lay(f"{sign}{number}"))
        assert State.SURE not in states(stamp)
        found = {d for slot in SLOTS for d in stamp.figure(slot).doubts}
        assert found & {Doubt.AMBIGUOUS_DIGITS, Doubt.DIRECTION}


def test_without_another_reader_nothing_is_sure() -> None:
    """One reader alone proposes and asks."""
    (draft,) = find_stamps(lay(STAMP), SIZE, find_spans)
    assert [State.ASK] * 3 == states(judge(draft, {}))


def test_a_digit_only_the_second_reader_saw_is_proposed_and_asked() -> None:
    """7 with room for a digit before it, and a second reader that saw 27: 27 is proposed."""
    stamp = judged(without(lay(STAMP), 1), lay(STAMP))
    assert ("27", State.ASK) == (values(stamp)[0], stamp.closed.state)
    assert [State.SURE] * 2 == states(stamp)[1:]


def test_a_digit_nobody_saw_leaves_a_hole_that_keeps_it_from_being_sure() -> None:
    """Both readers lost the 2 of 27: the room it left makes the 7 `ask`."""
    lost = without(lay(STAMP), 1)
    stamp = judged(lost, lost)
    assert (["7", "9.5", "7"], State.ASK) == (values(stamp), stamp.closed.state)


def test_a_lost_decimal_point_is_never_sure() -> None:
    """9.5 without its point is 95, more than closed; with the parts apart it is a loose 9."""
    lost = without(lay(STAMP), 6)
    stamp = judged(lost, lost)
    assert State.SURE is not stamp.cross.state


def test_a_figure_only_the_second_reader_saw_is_asked() -> None:
    """A whole figure the first reader missed is proposed from the second, never as sure."""
    glyphs = lay(STAMP)
    stamp = judged(without(glyphs, *range(len(glyphs) - 4, len(glyphs))), glyphs)
    assert ("7", State.ASK) == (values(stamp)[2], stamp.open.state)


def test_a_substituted_digit_is_settled_by_the_likelier_reading_but_asked() -> None:
    """The first reader hesitates between 21 and 27, the second is certain of 27."""
    first = changed(lay(STAMP), 2, char="1", confidence=0.5, alternatives=(("7", 0.45),))
    stamp = judged(first, lay(STAMP))
    assert ("27", State.ASK) == (values(stamp)[0], stamp.closed.state)
    assert Doubt.READERS_DISAGREE in stamp.closed.doubts


def test_a_weak_reader_that_differs_does_not_outvote_two_that_agree() -> None:
    """Tesseract reading 21 does not spoil a 27 that two trained readers saw."""
    glyphs = lay(STAMP)
    (draft,) = find_stamps(glyphs, SIZE, find_spans)
    others = {"line": glyphs, "tesseract": changed(glyphs, 2, char="1")}
    assert State.SURE is judge(draft, others).closed.state
    assert State.ASK is judge(draft, {"tesseract": others["tesseract"]}).closed.state


def test_a_pictogram_seen_by_the_second_reader_counts_with_the_digits_votes() -> None:
    """The first reader lost the pictogram but its digits vote closed; the second saw it."""
    whole = [
        replace(g, role=(0.01, 0.96, 0.01, 0.01, 0.01)) if g.char.isdigit() else g
        for g in lay("{C}27kN")
    ]
    assert State.SURE is judged(without(whole, 0), whole).closed.state
    assert State.ASK is judged(without(whole, 0), without(whole, 0)).closed.state


@pytest.mark.parametrize(
    ("text", "note"),
    [
        ("5000LBF", "5000 lbf"),
        ("2200daN".upper(), "2200 daN"),
        ("WLL 250KG", "250 kg"),
        ("2.5T", "2.5 t"),
    ],
)
def test_other_units_are_recognised_and_not_forced_into_kN(text: str, note: str) -> None:
    """No figure in kN is made of pounds, decanewtons or kilograms; a note tells them."""
    drafts = find_stamps(lay(text), SIZE, find_spans)
    (stamp,) = (judge(d, {}) for d in drafts)
    assert [None] * 3 == values(stamp)
    assert (Doubt.UNIT,) == stamp.closed.doubts
    assert any(note in line for line in stamp.notes)


def test_an_empty_slot_with_a_pictogram_says_not_seen() -> None:
    """A gate-open pictogram without a number gives no value and the reason."""
    stamp = judged(lay("{C}27kN {X}9kN {O}"))
    assert (None, State.NONE, (Doubt.NOT_SEEN,)) == (
        stamp.open.kN,
        stamp.open.state,
        stamp.open.doubts,
    )


def test_a_slot_that_is_not_stamped_does_not_spoil_the_outcome() -> None:
    """A quick link without gate-open figure can be sure as a whole."""
    stamp = judged(lay("{C}25kN {X}12kN"))
    assert (State.SURE, (), None) == (stamp.outcome, stamp.open.doubts, stamp.open.kN)


def test_the_scores_of_a_figure_are_given_for_calibration() -> None:
    """One row of raw scores a figure, the total being the least of its parts."""
    glyphs = lay(STAMP)
    (draft,) = find_stamps(glyphs, SIZE, find_spans)
    rows = features(draft, {"line": glyphs})
    assert set(SLOTS) == set(rows)
    row = rows[Slot.CLOSED]
    assert min(row["glyph"], row["link"], row["direction"]) == row["score"]
    assert (1.0, 0.0, 1.0, 1.0) == (row["agree"], row["differ"], row["linked"], row["unit"])


def test_no_glyphs_give_no_stamps() -> None:
    """An empty photo has nothing to judge."""
    assert () == find_stamps([], SIZE, find_spans)


@settings(max_examples=40, deadline=None)
@given(
    turn=st.floats(0, 360),
    scale=st.floats(0.5, 1.5),
    dx=st.floats(-100, 100),
    dy=st.floats(-100, 100),
)
def test_figures_do_not_depend_on_how_the_photo_is_held(
    turn: float, scale: float, dx: float, dy: float
) -> None:
    """Turning, scaling and moving all glyphs changes nothing but the boxes."""
    glyphs = lay(STAMP, 1600, 1950) + lay("CE 9123 EN 362:2004/B", 1600, 2010)
    moved = transformed(glyphs, turn, scale, dx, dy)
    before, after = judged(glyphs), judged(moved)
    assert values(before) == values(after)
    assert states(before) == states(after)
    assert [m.text for m in before.marks] == [m.text for m in after.marks]
    assert before.closed.confidence == pytest.approx(after.closed.confidence, abs=1e-6)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000))
def test_scattered_glyphs_are_never_a_sure_figure(seed: int) -> None:
    """Characters strewn at random, as on a keyboard or a ruler, give nothing sure."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(1, 60))
    glyphs = [
        Glyph(
            str(rng.choice(list("0123456789KN.CEI-"))), float(rng.uniform(0, 4000)), float(rng.uniform(0, 4000)),
            float(rng.uniform(10, 40)), float(rng.uniform(5, 25)), float(rng.uniform(0, 360)), float(rng.uniform(0.2, 1)),
        )
        for _ in range(count)
    ]  # fmt: skip
    for draft in find_stamps(glyphs, SIZE, find_spans):
        assert State.SURE not in states(judge(draft, {"line": glyphs}))


@given(
    st.floats(0.02, 0.98),
    st.floats(0.0, 0.9),
    st.floats(0.5, 4.0),
)
def test_temperature_scaling_agrees_with_a_softmax_of_scaled_logits(
    own: float, share: float, temperature: float
) -> None:
    """q = softmax(log p / T), compared with SciPy's softmax."""
    other = (1.0 - own) * share
    rest = 1.0 - own - other
    kept = np.array([p for p in (own, other, rest) if p > 0.0])
    expected = softmax(np.log(kept) / temperature)[0]
    assert expected == pytest.approx(tempered(own, (("7", other),), temperature), rel=1e-6)


def test_caps_come_from_a_reader_card() -> None:
    """Known names are taken, others left, types kept."""
    caps = Caps.from_mapping(
        {"sure_at": "0.97", "readers_at": 2, "weak_readers": ["tesseract"], "other": 1}
    )
    assert (0.97, 2, ("tesseract",), Caps().ask_at) == (
        caps.sure_at,
        caps.readers_at,
        caps.weak_readers,
        caps.ask_at,
    )


def test_an_uncalibrated_reader_is_never_sure() -> None:
    """Without calibrated thresholds every figure is asked."""
    stamp = judged(lay(STAMP), caps=Caps(calibrated=False))
    assert {State.ASK} == set(states(stamp))
    assert Doubt.UNCALIBRATED in stamp.closed.doubts


def test_bare_arrows_that_make_closed_the_lesser_are_exchanged_and_asked() -> None:
    """Along the spine a connector holds most (EN 12275:2013, table 1: 20 kN closed, 7 kN across)."""
    stamp = judged([*lay("{#}41kN", y=1500), *lay("{=}13kN", y=1560), *lay("{O}9kN", y=1620)])
    assert ["41", "13", "9"] == values(stamp)
    assert State.ASK is stamp.closed.state
    assert State.ASK is stamp.cross.state
    assert Doubt.SLOT_CONFLICT in stamp.closed.doubts


def test_outlines_that_make_closed_the_lesser_are_not_exchanged() -> None:
    """An outline shows its load by itself; then a figure may be misread, and both are asked."""
    stamp = judged(lay("{C}8kN {X}27kN {O}7kN"))
    assert ["8", "27", "7"] == values(stamp)


@pytest.mark.parametrize("unit", ["kkkkN", "kNN", "kkN"])
def test_a_unit_seen_more_than_once_leaves_its_figure(unit: str) -> None:
    """The dots of a dot-peened k may each be taken for one."""
    assert ["20", "9", None] == values(judged(lay(f"{{C}}20{unit}  {{X}}9kN")))


@pytest.mark.parametrize("tail", ["kkA", "NkN"])
def test_letters_that_are_no_unit_make_no_figure(tail: str) -> None:
    """A serial that begins with a number stays one."""
    assert "20" not in values(judged([*lay(f"20{tail}", y=1600), *lay("{C}27kN {X}9kN")]))


def test_a_number_no_connector_holds_gives_way_to_what_the_second_reader_saw() -> None:
    """An edge taken for one more digit: 321 kN, where the line reader saw 32."""
    first, second = lay("{C}321kN {X}9kN {O}7kN"), lay("{C}32kN {X}9kN {O}7kN")
    stamp = judged(first, [replace(g, x=g.x + (18 if k > 2 else 0)) for k, g in enumerate(second)])
    assert Decimal(32) == stamp.closed.kN
    assert State.ASK is stamp.closed.state
    assert Doubt.READERS_DISAGREE in stamp.closed.doubts


def test_a_digit_too_faint_to_be_read_beside_a_figure_keeps_it_from_being_sure() -> None:
    """A worn 1 before the 7 of a gate figure: it could be 17."""
    glyphs = lay("{C}27kN {X}9.5kN {O} 7kN")
    seven = next(k for k, g in enumerate(glyphs) if g.char == "7" and k > 6)
    faint = replace(
        glyphs[seven], char="1", x=glyphs[seven].x - 22, confidence=0.18, alternatives=()
    )
    assert State.SURE is judged(glyphs).open.state
    stamp = judged([*glyphs, faint], glyphs)
    assert State.ASK is stamp.open.state
    assert Doubt.WEAK_GLYPH in stamp.open.doubts
    assert State.SURE is stamp.closed.state

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from laying import SIZE, lay

from stampreader.figures import find_stamps
from stampreader.marks import find_spans
from stampreader.words import SLOTS, Glyph, Slot


def claims(glyphs: list[Glyph]) -> tuple[str | None, ...]:
    """Numbers claimed for closed, cross and open over all stamps."""
    found: dict[Slot, str] = {}
    for draft in find_stamps(glyphs, SIZE, find_spans):
        found |= {c.slot: c.number.text for c in draft.claims}
    return tuple(found.get(slot) for slot in SLOTS)


def stack(*rows: str, leading: float = 50.0, **how: float) -> list[Glyph]:
    """Rows of text below each other."""
    return [g for k, row in enumerate(rows) for g in lay(row, y=1500.0 + k * leading, **how)]


def column(*pairs: tuple[str, str], above: bool = True) -> list[Glyph]:
    """Numbers with a pictogram centred above or below each."""
    out, along = [], 1000.0
    for sign, text in pairs:
        number = lay(text, along, 1500.0)
        middle = (number[0].x + number[-1].x) / 2
        (mark,) = lay("{" + sign + "}", 0.0, 0.0)
        out += [*number, replace(mark, x=middle, y=1500.0 + (-48.0 if above else 48.0))]
        along += 140.0
    return out


ONE_LINE = {
    "before": "{C}27kN {X}8kN {O}7kN",
    "before-without-unit": "{C}27 {X}8 {O}7",
    "before-unit-once": "{C}27 {X}8 {O}7kN",
    "behind": "27kN{C}  8kN{X}  7kN{O}",
    "arrows": "{=}27kN {#}8kN {O}7kN",
    "another-order": "{C}27kN {O}7kN {X}8kN",
    "set-with-slashes": "{C} {X} {O} 27/8/7 kN",
    "set-with-dashes": "{C} {X} {O} 27-8-7 kN",
    "set-in-another-order": "{C} {O} {X} 27/7/8 kN",
    "with-a-mark-behind": "{C}27kN {X}8kN {O}7kN CE 9123",
    "with-a-mark-before": "EN 362:2004/B {C}27kN {X}8kN {O}7kN",
    "with-a-year": "2019 {C}27kN {X}8kN {O}7kN",
    "with-a-gate-strength": "{C}27kN {X}8kN {O}7kN GATE 16kN",
    "with-a-working-load": "WLL 5kN {C}27kN {X}8kN {O}7kN",
    "with-a-serial": "{C}27kN {X}8kN {O}7kN SN 482716",
}


@pytest.mark.parametrize("text", ONE_LINE.values(), ids=ONE_LINE.keys())
@pytest.mark.parametrize("angle", [0.0, 137.0])
def test_pictograms_decide_the_slots_on_one_line(text: str, angle: float) -> None:
    """27 closed, 8 across, 7 with the gate open, wherever the pictograms stand."""
    assert ("27", "8", "7") == claims(lay(text, 2000, 2000, angle=angle))


@pytest.mark.parametrize("above", [True, False], ids=["above", "below"])
def test_pictograms_above_or_below(above: bool) -> None:
    """Each number belongs to the pictogram over or under it."""
    assert ("25", "9", "6") == claims(column(("C", "25"), ("O", "6"), ("X", "9"), above=above))


def test_a_column_of_rows() -> None:
    """One figure a row, pictogram first."""
    assert ("27", "8", "7") == claims(stack("{C}27kN", "{X}8kN", "{O}7kN"))


def test_two_rows() -> None:
    """Closed on the first row, the others on the second."""
    assert ("40", "11", "12") == claims(stack("{C}40kN", "{X}11kN {O}12kN"))


def test_only_the_figures_that_are_stamped() -> None:
    """A quick link without gate-open figure gets none."""
    assert ("25", "10", None) == claims(lay("{C}25kN {X}10kN"))


def test_a_row_of_digits_is_parted_by_the_pictograms_above() -> None:
    """58 13 6 set tight is three numbers under three pictograms."""
    digits = lay("58 13 6", 1000.0, 1500.0, space=0.35)
    middles = [(digits[0].x + digits[1].x) / 2, (digits[2].x + digits[3].x) / 2, digits[4].x]
    signs = [
        replace(lay(f"{{{s}}}")[0], x=x, y=1450.0, width_px=24.0)
        for s, x in zip("CXO", middles, strict=True)
    ]
    assert ("58", "13", "6") == claims(digits + signs)


def test_votes_of_the_digits_stand_in_for_a_lost_pictogram() -> None:
    """A number whose pictogram was not seen keeps the slot its digits vote for."""
    glyphs = lay("{C}27kN ", x=1500.0, role=1) + lay("7kN", x=1760.0, role=3)
    (draft,) = find_stamps(glyphs, SIZE, find_spans)
    claim = draft.claim(Slot.OPEN)
    assert claim is not None
    assert ("7", None) == (claim.number.text, claim.sign)


def test_without_pictograms_the_order_proposes_and_is_marked_so() -> None:
    """24/8/9 kN is proposed as closed, cross, open, by order."""
    (draft,) = find_stamps(lay("24/8/9kN"), SIZE, find_spans)
    assert [("24", True), ("8", True), ("9", True)] == [
        (c.number.text, c.by_order) for c in draft.claims
    ]


@pytest.mark.parametrize(
    "text",
    [
        "8/24/9kN",
        "8/24kN",
        "24 8",
        "24/8/9/7kN",
        "24 8 9",
        "5000LBF",
        "CE 9123",
        "2019",
        "WLL 5kN",
        "GATE 16kN",
    ],
)
def test_without_pictograms_nothing_else_is_proposed(text: str) -> None:
    """Another number of figures, the largest not first, no unit, other strengths: no proposal."""
    assert (None, None, None) == claims(lay(text))


def test_two_numbers_without_pictograms_are_proposed_as_closed_and_cross() -> None:
    """24/8 kN, the larger first, by order; with a pictogram on the stamp nothing is guessed."""
    for text in ("24/8kN", "24kN 8kN", "35.5kN 14kN"):
        (draft,) = find_stamps(lay(text), SIZE, find_spans)
        slots = [(c.slot, c.by_order) for c in draft.claims]
        assert [(Slot.CLOSED, True), (Slot.CROSS, True)] == slots


def test_a_lone_arrow_beside_three_figures_is_a_glint() -> None:
    """22 kN 10 kN 9 kN with one arrow at the 9: makers set arrows to each figure or none."""
    arrow = lay("{#}", x=1950.0, y=1460.0)
    glyphs = lay("22kN 10kN 9kN")
    assert ("22", "10", "9") == claims([*glyphs, *arrow])


def test_three_numbers_without_unit_need_votes_for_a_proposal_by_order() -> None:
    """24 8 9 without kN is proposed only where the digits vote for strengths."""
    assert (None, None, None) == claims(lay("24/8/9"))
    assert ("24", "8", "9") == claims(lay("24/8/9", role=4))


def test_two_numbers_at_pictograms_of_one_kind_rival() -> None:
    """Two closed figures of different value on one stamp are kept as rivals or as two stamps."""
    drafts = find_stamps(lay("{C}27kN {C}22kN"), SIZE, find_spans)
    values = {c.number.text for d in drafts for c in d.claims if c.slot is Slot.CLOSED}
    rivals = {c.rival.text for d in drafts for c in d.claims if c.rival}
    assert {"27", "22"} == values | rivals


def test_connectors_side_by_side_keep_their_own_figures() -> None:
    """Two connectors with different figures give two stamps, each with its own three."""
    glyphs = lay("{C}27kN {X}8kN {O}7kN", y=1000) + lay("{C}40kN {X}11kN {O}12kN", y=1500)
    drafts = find_stamps(glyphs, SIZE, find_spans)
    assert [["27", "8", "7"], ["40", "11", "12"]] == [
        [c.number.text for c in d.claims] for d in drafts
    ]


def test_connectors_close_together_are_told_apart_by_their_figures() -> None:
    """Two full sets of figures three heights apart are two stamps, not one."""
    glyphs = lay("{C}27kN {X}8kN {O}7kN", y=1000) + lay("{C}40kN {X}11kN {O}12kN", y=1110)
    drafts = find_stamps(glyphs, SIZE, find_spans)
    assert [["27", "8", "7"], ["40", "11", "12"]] == [
        [c.number.text for c in d.claims] for d in drafts
    ]


def test_marks_elsewhere_belong_to_the_nearest_figures() -> None:
    """A mark far down the spine is listed with the stamp that has figures."""
    glyphs = lay("{C}27kN {X}8kN {O}7kN", y=1000) + lay("EN 12275", y=1600)
    (draft,) = find_stamps(glyphs, SIZE, find_spans)
    assert ["EN 12275"] == [m.text for m in draft.marks]


def test_numbers_of_marks_are_never_figures() -> None:
    """A pictogram beside a mark does not make its number a strength."""
    assert (None, None, None) == claims(lay("{C} EN 362:2004/B CE 9123"))


def test_values_are_decimals_as_stamped() -> None:
    """9.5 is kept exactly."""
    (draft,) = find_stamps(lay("{C}22.5kN {X}9.5kN {O}7kN"), SIZE, find_spans)
    assert [Decimal("22.5"), Decimal("9.5"), Decimal("7")] == [c.number.value for c in draft.claims]


def test_the_grain_of_a_bench_is_no_stamp() -> None:
    """Faint glyphs that agree on nothing are left out; a firm stamp among them stays."""
    grain = [
        replace(g, confidence=0.4, angle_deg=(k * 97.0) % 360.0)
        for k, g in enumerate(lay("1K{C}0.N5", x=600.0, y=2600.0))
    ]
    assert () == find_stamps(grain, SIZE, find_spans)
    (draft,) = find_stamps(grain + lay("{C}27kN"), SIZE, find_spans)
    assert ["27"] == [c.number.text for c in draft.claims]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("{C}27kN 8kN 7kN", ("27", "8", "7")),
        ("27kN {X}8kN 7kN", ("27", "8", "7")),
        ("{C}27kN 8kN {O}7kN", ("27", "8", "7")),
        ("{C}27kN {O}8kN 7kN", ("27", "7", "8")),
        ("8kN {C}27kN 7kN", (None, None, None)),
        ("{C}27kN 8kN", ("27", None, None)),
    ],
)
def test_slots_left_over_are_proposed_by_order(text: str, expected: tuple[str | None, ...]) -> None:
    """Of three figures with lost pictograms the rest is proposed, and marked as by order."""
    drafts = find_stamps(lay(text, space=1.6), SIZE, find_spans)
    found = {c.slot: c for d in drafts for c in d.claims}
    if expected[0] is not None:
        assert expected == tuple(found[s].number.text if s in found else None for s in SLOTS)
    assert all((c.sign is None) == c.by_order for c in found.values())

"""How far each figure of a draft may be trusted, given what the other readers saw."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

from stampreader.figures.caps import Caps, tempered
from stampreader.figures.direction import upside_down
from stampreader.figures.draft import Draft
from stampreader.figures.geometry import box_around
from stampreader.figures.slots import Claim
from stampreader.figures.tokens import Number
from stampreader.figures.witness import Testimony, Verdict, hear
from stampreader.words import NOTHING, SLOTS, Doubt, Figure, Glyph, Slot, Stamp, State

Others = Mapping[str, Sequence[Glyph]]


def judge(draft: Draft, others: Others, caps: Caps = Caps()) -> Stamp:  # noqa: B008 - frozen
    """The stamp with a state, a confidence and the named doubts of every figure.

    A figure is sure only if nothing speaks against it: another reader saw the same digits, a
    pictogram tells its direction, every score is high enough. A named doubt makes it `ask`
    however high the score; a score below `caps.ask_at` proposes nothing.
    """
    figures = {slot: _figure(draft, slot, others, caps) for slot in SLOTS}
    figures = _compared(figures)
    notes = (*draft.notes, *_notes(draft))
    return Stamp(
        figures[Slot.CLOSED],
        figures[Slot.CROSS],
        figures[Slot.OPEN],
        draft.marks,
        draft.serial,
        notes,
        draft.angle_deg,
        draft.box,
    )


def features(draft: Draft, others: Others, caps: Caps = Caps()) -> dict[Slot, dict[str, float]]:  # noqa: B008 - frozen
    """The raw scores of every claimed figure, for calibration.

    Returns:
        By slot: `glyph` (least tempered probability of its glyphs), `link` (of its slot),
        `direction` (that it is not upside down), `evidence` (nats), `letters` (nats), `height_px`,
        `linked`, `unit`, `agree`, `differ` (numbers of other readers), `score`.
    """
    return {
        claim.slot: _scores(draft, claim, list(_testimonies(draft, claim, others)), caps)
        for claim in draft.claims
    }


def _testimonies(draft: Draft, claim: Claim, others: Others) -> list[Testimony]:
    return [
        hear(claim.number, claim.sign, claim.slot, draft.lines, glyphs)
        for glyphs in others.values()
    ]


def _scores(draft: Draft, claim: Claim, heard: Sequence[Testimony], caps: Caps) -> dict[str, float]:
    number = claim.number
    direction = draft.directions[number.line]
    glyph = min(tempered(g.confidence, g.alternatives, caps.temperature) for g in number.glyphs)
    score = min(glyph, claim.probability, direction.probability)
    return {
        "glyph": glyph,
        "link": claim.probability,
        "direction": direction.probability,
        "evidence": direction.evidence,
        "letters": direction.letters,
        "height_px": draft.lines[number.line].height_px,
        "linked": float(claim.sign is not None),
        "unit": float(number.unit == "KN"),
        "agree": float(sum(t.number is Verdict.AGREES for t in heard)),
        "differ": float(sum(t.number is Verdict.DIFFERS for t in heard)),
        "score": score,
    }


def _figure(draft: Draft, slot: Slot, others: Others, caps: Caps) -> Figure:
    claim = draft.claim(slot)
    if claim is None or claim.number.value is None:
        return _without_number(draft, slot)
    heard = _testimonies(draft, claim, others)
    scores = _scores(draft, claim, heard, caps)
    doubts = tuple(dict.fromkeys(_doubts(draft, claim, heard, scores, caps)))
    box = box_around(claim.number.glyphs, draft.directions[claim.number.line].angle_deg)
    if scores["score"] < caps.ask_at and not claim.by_order:
        return Figure(None, State.NONE, scores["score"], box, doubts or (Doubt.WEAK_GLYPH,))
    sure = not doubts and scores["score"] >= caps.sure_at
    state = State.SURE if sure else State.ASK
    if state is State.ASK and not doubts:
        doubts = (Doubt.WEAK_GLYPH,)
    return Figure(claim.number.value, state, scores["score"], box, doubts)


def _without_number(draft: Draft, slot: Slot) -> Figure:
    """Nothing proposed; with the reason where the stamp does show something for the slot."""
    if any(n.is_strength_like or n.value is not None for n in draft.other_units) and (
        slot is Slot.CLOSED and not draft.claims
    ):
        number = draft.other_units[0]
        box = box_around(number.glyphs, draft.directions[number.line].angle_deg)
        return Figure(None, State.NONE, 0.0, box, (Doubt.UNIT,))
    name = {Slot.CLOSED: ("<closed>",), Slot.CROSS: ("<cross>",), Slot.OPEN: ("<open>",)}[slot]
    shown = [g for g in draft.glyphs if g.char in name]
    if shown:
        box = box_around(shown[:1], draft.angle_deg)
        return Figure(None, State.NONE, 0.0, box, (Doubt.NOT_SEEN,))
    return NOTHING


def _doubts(
    draft: Draft,
    claim: Claim,
    heard: Sequence[Testimony],
    scores: Mapping[str, float],
    caps: Caps,
) -> list[Doubt]:
    """Every named reason against a figure being sure."""
    value = claim.number.value
    checks = {
        Doubt.READERS_DISAGREE: scores["differ"] > 0,
        Doubt.ONE_READER: scores["agree"] < caps.readers_at,
        Doubt.NO_PICTOGRAM: claim.sign is None,
        Doubt.ORDER_ONLY: claim.by_order,
        Doubt.SLOT_CONFLICT: _slot_in_doubt(claim, heard, caps),
        Doubt.DIRECTION: scores["evidence"] < caps.direction_at or any(t.turned for t in heard),
        Doubt.AMBIGUOUS_DIGITS: _reads_turned(claim.number) and scores["letters"] < caps.letters_at,
        Doubt.WEAK_GLYPH: scores["glyph"] < caps.glyph_at or claim.number.crowded,
        Doubt.OUT_OF_RANGE: value is None or not caps.in_range(value),
        Doubt.UNIT_MISSING: claim.number.unit is None and claim.sign is None,
        Doubt.TWO_VALUES: claim.rival is not None,
        Doubt.TOO_SMALL: scores["height_px"] < caps.min_glyph_px,
        Doubt.OTHER_CONNECTOR: draft.crowd,
        Doubt.UNCALIBRATED: not caps.calibrated,
    }
    return [doubt for doubt, holds in checks.items() if holds]


def _slot_in_doubt(claim: Claim, heard: Sequence[Testimony], caps: Caps) -> bool:
    weak = claim.probability < caps.link_at and not claim.by_order
    return weak or any(t.sign is Verdict.DIFFERS for t in heard)


def _reads_turned(number: Number) -> bool:
    """Whether the number reads as a number upside down as well."""
    return upside_down(number.text.replace(".", "")) is not None


def _compared(figures: dict[Slot, Figure]) -> dict[Slot, Figure]:
    """Across or with the gate open no connector holds more than closed along its spine."""
    closed = figures[Slot.CLOSED].kN
    others = [figures[s].kN for s in (Slot.CROSS, Slot.OPEN)]
    if closed is None or all(o is None or o <= closed for o in others):
        return figures
    return {slot: _doubted(f, Doubt.OUT_OF_RANGE) for slot, f in figures.items()}


def _doubted(figure: Figure, doubt: Doubt) -> Figure:
    if figure.kN is None:
        return figure
    state = State.ASK if figure.state is State.SURE else figure.state
    doubts = figure.doubts if doubt in figure.doubts else (*figure.doubts, doubt)
    return Figure(figure.kN, state, figure.confidence, figure.box, doubts)


def _notes(draft: Draft) -> list[str]:
    """Remarks on numbers that are no figures of the three directions."""
    notes = [
        f"Stamped {n.text} {_unit_name(n.unit)}; figures are kept in kN only, so enter it by hand."
        for n in draft.other_units
    ]
    notes += [f"{n.text} kN is stamped without a pictogram." for n in draft.loose]
    return notes


def _unit_name(unit: str | None) -> str:
    return {"DAN": "daN", "T": "t", "KN": "kN"}.get(unit or "", (unit or "").lower())


def value_of(text: str) -> Decimal:
    """A stamped number as a decimal."""
    return Decimal(text)

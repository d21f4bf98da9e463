"""How far each figure of a draft may be trusted, given what the other readers saw."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from stampreader.figures.caps import Caps, tempered
from stampreader.figures.direction import upside_down
from stampreader.figures.draft import Draft, fused
from stampreader.figures.geometry import box_around
from stampreader.figures.holes import hinted, hollow, stray
from stampreader.figures.lines import ARROWS
from stampreader.figures.marked import marks_of
from stampreader.figures.pairs import companion, go_together
from stampreader.figures.sense import (
    arrows_righted,
    compared,
    corrected,
    fitting,
    once,
    too_much_for_open,
    with_lost_point,
)
from stampreader.figures.slots import Claim
from stampreader.figures.tokens import Number
from stampreader.figures.witness import Testimony, Verdict, hear
from stampreader.words import NOTHING, SLOTS, Doubt, Figure, Glyph, Quad, Slot, Stamp, State

Others = Mapping[str, Sequence[Glyph]]

DEFAULT = Caps()
NUMBER = re.compile(r"[1-9]\d?(\.\d)?")
"""A strength as it is stamped."""


@dataclass(frozen=True, slots=True)
class _Case:
    """A claim with all that is known about it."""

    draft: Draft
    claim: Claim
    heard: tuple[tuple[str, Testimony], ...]
    scores: Mapping[str, float]


def judge(draft: Draft, others: Others, caps: Caps = DEFAULT) -> Stamp:
    """The stamp with a state, a confidence and the named doubts of every figure.

    A figure is sure only if nothing speaks against it: another reader saw the same digits, a
    pictogram tells its direction, every score is high enough. A named doubt makes it `ask`
    however high the score; a score below `caps.ask_at` proposes nothing. Where readers differ,
    what both together make likeliest is proposed, never as sure.

    Args:
        draft: the stamp as the first reader saw it.
        others: glyphs of each other reader over the whole photo, by the reader's name.
        caps: thresholds.
    """
    second = _second(others, caps)
    joint = fused(draft, second) if second else None
    figures = {slot: _figure(draft, slot, joint, others, caps) for slot in SLOTS}
    if joint is not None:
        for claim in joint.claims:
            if _stands(figures, claim, caps):
                figures[claim.slot] = _proposed(figures[claim.slot], joint, claim)
        figures = once(figures, draft, joint)
        figures |= {c.slot: _told(figures, c, draft, second, caps) for c in draft.claims}
    figures = too_much_for_open(with_lost_point(figures, caps), (joint or draft).claims)
    figures = compared(arrows_righted(draft, figures))
    return Stamp(
        figures[Slot.CLOSED],
        figures[Slot.CROSS],
        figures[Slot.OPEN],
        marks_of(draft, joint, second),
        (joint or draft).serial or draft.serial,
        (*(joint or draft).notes, *_notes(draft)),
        draft.angle_deg,
        draft.box,
    )


def features(draft: Draft, others: Others, caps: Caps = DEFAULT) -> dict[Slot, dict[str, float]]:
    """The raw scores of every claimed figure, for calibration.

    Returns:
        By slot: `glyph` (least tempered probability of its glyphs), `link` (of its slot),
        `direction` (that it is not upside down), `evidence` and `letters` (nats for the direction),
        `height_px`, `linked`, `unit` and `hollow` (0 or 1), `agree` and `differ` (numbers of other
        readers), `score` (least of glyph, link and direction).
    """
    return {claim.slot: dict(_case(draft, claim, others, caps).scores) for claim in draft.claims}


def _case(draft: Draft, claim: Claim, others: Others, caps: Caps) -> _Case:
    heard = tuple(
        (name, hear(claim.number, claim.sign, claim.slot, draft.lines, glyphs))
        for name, glyphs in others.items()
    )
    number = claim.number
    direction = draft.directions[number.line]
    glyph = min(tempered(g.confidence, g.alternatives, caps.temperature) for g in number.glyphs)
    agree = [name for name, t in heard if t.number is Verdict.AGREES]
    differ = [name for name, t in heard if t.number is Verdict.DIFFERS]
    if any(name not in caps.weak_readers for name in agree):
        differ = [name for name in differ if name not in caps.weak_readers]
    scores = {
        "glyph": glyph,
        "link": claim.probability,
        "direction": direction.probability,
        "evidence": direction.evidence,
        "letters": direction.letters,
        "height_px": draft.lines[number.line].height_px,
        "linked": float(claim.sign is not None or claim.pictured),
        "unit": float(number.unit == "KN"),
        "hollow": float(
            number.crowded
            or hollow(claim, draft.claims, draft.lines)
            or stray(claim, draft.claims, draft.lines, draft.taken)
            or hinted(claim, draft.lines, draft.hints)
        ),
        "agree": float(len(agree)),
        "differ": float(len(differ)),
        "score": min(glyph, claim.probability, direction.probability),
    }
    return _Case(draft, claim, heard, scores)


def _figure(draft: Draft, slot: Slot, joint: Draft | None, others: Others, caps: Caps) -> Figure:
    claim = draft.claim(slot)
    if claim is None or claim.number.value is None:
        return _without_number(draft, slot)
    claim = _with_sign(claim, joint)
    case = _case(draft, claim, others, caps)
    score = case.scores["score"]
    doubts = _doubts(case, caps)
    box = _box(draft, claim.number)
    if score < caps.ask_at and not claim.by_order:
        return Figure(None, State.NONE, score, box, doubts or (Doubt.WEAK_GLYPH,))
    if not doubts and score >= caps.sure_at:
        return Figure(claim.number.value, State.SURE, score, box)
    return Figure(claim.number.value, State.ASK, score, box, doubts or (Doubt.WEAK_GLYPH,))


def _with_sign(claim: Claim, joint: Draft | None) -> Claim:
    """A claim by the votes of its digits, with the pictogram that the other reader saw there."""
    seen = joint.claim(claim.slot) if joint is not None and claim.sign is None else None
    if seen is None or seen.sign is None or seen.number.text != claim.number.text:
        return claim
    return replace(claim, pictured=True, probability=max(claim.probability, seen.probability))


def _box(draft: Draft, number: Number) -> Quad:
    return box_around(number.glyphs, draft.directions[number.line].angle_deg)


def _without_number(draft: Draft, slot: Slot) -> Figure:
    """Nothing proposed; with the reason where the stamp does show something for the slot."""
    if slot is Slot.CLOSED and draft.other_units and not draft.claims:
        return Figure(None, State.NONE, 0.0, _box(draft, draft.other_units[0]), (Doubt.UNIT,))
    names = {Slot.CLOSED: "<closed>", Slot.CROSS: "<cross>", Slot.OPEN: "<open>"}
    shown = [g for g in draft.glyphs if g.char == names[slot]]
    if shown:
        box = box_around(shown[:1], draft.angle_deg)
        return Figure(None, State.NONE, 0.0, box, (Doubt.NOT_SEEN,))
    return NOTHING


def _doubts(case: _Case, caps: Caps) -> tuple[Doubt, ...]:
    """Every named reason against a figure being sure."""
    claim, scores = case.claim, case.scores
    value = claim.number.value
    turned = any(t.turned for name, t in case.heard if name not in caps.weak_readers)
    reads_turned = upside_down(claim.number.text.replace(".", "")) is not None
    checks = {
        Doubt.READERS_DISAGREE: scores["differ"] > 0,
        Doubt.ONE_READER: scores["agree"] < caps.readers_at and scores["differ"] == 0,
        Doubt.NO_PICTOGRAM: not scores["linked"],
        Doubt.ORDER_ONLY: claim.by_order,
        Doubt.SLOT_CONFLICT: _slot_in_doubt(case, caps),
        Doubt.DIRECTION: scores["evidence"] < caps.direction_at or turned,
        Doubt.AMBIGUOUS_DIGITS: reads_turned and scores["letters"] < caps.letters_at,
        Doubt.WEAK_GLYPH: scores["glyph"] < caps.glyph_at or scores["hollow"] > 0,
        Doubt.OUT_OF_RANGE: value is None or not caps.in_range(value),
        Doubt.UNIT_MISSING: claim.number.unit is None and not scores["linked"],
        Doubt.TWO_VALUES: claim.rival is not None or _contradicted(case),
        Doubt.TOO_SMALL: scores["height_px"] < caps.min_glyph_px,
        Doubt.OTHER_CONNECTOR: case.draft.crowd,
        Doubt.UNCALIBRATED: not caps.calibrated,
    }
    return tuple(doubt for doubt, holds in checks.items() if holds)


def _contradicted(case: _Case) -> bool:
    """Whether the same strength stands beside the figure in another unit, with another value."""
    other = companion(case.claim, case.draft.other_units, case.draft.lines)
    return other is not None and not go_together(case.claim, other)


def _slot_in_doubt(case: _Case, caps: Caps) -> bool:
    """Whether a figure may belong to another direction.

    A bare arrow is soon seen in a glint or a scratch, so one reader alone is not believed, nor
    one arrow where other figures stand without any.
    """
    sign = case.claim.sign
    weak = case.claim.probability < caps.link_at and not case.claim.by_order
    bare = sign is not None and sign.glyph.char in ARROWS
    seen = [t.sign for _, t in case.heard]
    doubtful = Verdict.AGREES not in seen or any(c.sign is None for c in case.draft.claims)
    return weak or Verdict.DIFFERS in seen or (bare and doubtful)


def _second(others: Others, caps: Caps) -> Sequence[Glyph]:
    """What the strongest other reader saw; empty if there is none."""
    strong = (g for name, g in others.items() if name not in caps.weak_readers and g)
    return next(strong, ())


def _stands(figures: Mapping[Slot, Figure], claim: Claim, caps: Caps) -> bool:
    """Whether what both readers make likeliest may take the place of what the first one read.

    Not if it is no connector's strength and the first one's is.
    """
    own, value = figures[claim.slot].kN, claim.number.value
    if own is None or value is None or not fitting(own, claim.slot, figures, caps):
        return True
    return fitting(value, claim.slot, figures, caps)


def _proposed(figure: Figure, joint: Draft, claim: Claim) -> Figure:
    """The figure with the value both readers together make likeliest."""
    value = claim.number.value
    if figure.state is State.SURE or value is None or value == figure.kN:
        return figure
    own = [Doubt.READERS_DISAGREE if figure.kN is not None else Doubt.ONE_READER]
    own += [Doubt.NO_PICTOGRAM] if claim.sign is None else []
    own += [Doubt.ORDER_ONLY] if claim.by_order else []
    score = 0.5 * min(claim.probability, *(g.confidence for g in claim.number.glyphs))
    kept = tuple(d for d in figure.doubts if d not in (Doubt.NOT_SEEN, Doubt.OUT_OF_RANGE))
    doubts = tuple(dict.fromkeys((*kept, *own)))
    return Figure(value, State.ASK, score, _box(joint, claim.number), doubts)


def _told(
    figures: Mapping[Slot, Figure],
    claim: Claim,
    draft: Draft,
    second: Sequence[Glyph],
    caps: Caps,
) -> Figure:
    """The figure as the second reader saw it, where the first one's is none or no connector's."""
    figure = figures[claim.slot]
    if figure.kN is not None and fitting(figure.kN, claim.slot, figures, caps):
        return figure
    heard = hear(claim.number, claim.sign, claim.slot, draft.lines, second)
    if heard.number is not Verdict.DIFFERS or heard.turned:
        return figure
    value = Decimal(heard.text) if NUMBER.fullmatch(heard.text) else None
    if value is None or not fitting(value, claim.slot, figures, caps):
        return figure
    box = _box(draft, claim.number)
    return corrected(value, heard.confidence, box, figure.doubts, Doubt.READERS_DISAGREE)


def _notes(draft: Draft) -> list[str]:
    """Remarks on numbers that are no figures of the three directions."""
    pairs = [(c, companion(c, draft.other_units, draft.lines)) for c in draft.claims]
    paired = [number for _, number in pairs]
    notes = [
        f"Stamped {n.text} {_unit_name(n.unit)}; figures are kept in kN only, so enter it by hand."
        for n in draft.other_units
        if n not in paired
    ]
    notes += [
        f"{c.number.text} kN and {n.text} {_unit_name(n.unit)} beside it do not go together."
        for c, n in pairs
        if n is not None and not go_together(c, n)
    ]
    notes += [f"{n.text} kN is stamped without a pictogram." for n in draft.loose]
    return notes


def _unit_name(unit: str | None) -> str:
    return {"DAN": "daN", "T": "t", "KN": "kN"}.get(unit or "", (unit or "").lower())

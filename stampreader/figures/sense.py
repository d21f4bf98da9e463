"""What is known of all connectors, put to the figures of one: corrections that are never sure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

from stampreader.figures.caps import Caps
from stampreader.figures.draft import Draft
from stampreader.figures.geometry import distance
from stampreader.figures.lines import ARROWS
from stampreader.figures.slots import Claim
from stampreader.figures.tokens import Number
from stampreader.words import NOTHING, Doubt, Figure, Quad, Slot, State

ALONG_ONLY_KN = 18
"""No connector is stamped with so much for an open gate; closed along the spine hardly any with
less (common practice, no source)."""
ON = 0.4
"""Characters nearer than so many heights are one character."""


def fitting(value: Decimal, slot: Slot, figures: Mapping[Slot, Figure], caps: Caps) -> bool:
    """Whether a connector may be stamped with this in a direction, given what else was read.

    With one decimal at most (common practice, no source), and no more than along the spine.
    """
    if not caps.in_range(value) or value * 10 != int(value * 10):
        return False
    if slot is Slot.CLOSED:
        others = (figures[s].kN for s in (Slot.CROSS, Slot.OPEN))
        return all(kN is None or kN <= value for kN in others)
    closed = figures[Slot.CLOSED].kN
    return closed is None or value <= closed


def once(figures: dict[Slot, Figure], draft: Draft, joint: Draft) -> dict[Slot, Figure]:
    """Each number for one direction: where both readers together see another than the first one
    alone, theirs stands."""
    free = [c for c in draft.claims if joint.claim(c.slot) is None]
    twice = [c.slot for c in free if any(_one(c.number, other.number) for other in joint.claims)]
    return figures | dict.fromkeys(twice, NOTHING)


def _one(a: Number, b: Number) -> bool:
    """Whether all digits of a number stand on digits of another."""
    return all(any(distance(g, h) < ON * g.height_px for h in b.glyphs) for g in a.glyphs)


def with_lost_point(figures: dict[Slot, Figure], caps: Caps) -> dict[Slot, Figure]:
    """Three digits that are too much for a connector, as a figure of which the point was not seen.

    Example: 115 is proposed as 11.5.
    """
    out = dict(figures)
    for slot, figure in figures.items():
        tenth = None if figure.kN is None else figure.kN / 10
        whole = figure.kN is not None and figure.kN >= 100 and figure.kN == int(figure.kN)
        if tenth is not None and whole and fitting(tenth, slot, out, caps):
            out[slot] = corrected(
                tenth, figure.confidence, figure.box, figure.doubts, Doubt.WEAK_GLYPH
            )
    return out


def too_much_for_open(figures: dict[Slot, Figure], claims: Sequence[Claim]) -> dict[Slot, Figure]:
    """A figure too large for an open gate, read at its pictogram, is that for the closed gate."""
    if figures[Slot.CLOSED].kN is not None:
        return figures
    at_open = {c.slot for c in claims if c.sign is not None and c.sign.glyph.char == "<open>"}
    large = [
        slot
        for slot in sorted(at_open, key=lambda s: s.value)
        if (kN := figures[slot].kN) is not None and kN >= ALONG_ONLY_KN
    ]
    if len(large) != 1:
        return figures
    told = doubted(figures[large[0]], Doubt.SLOT_CONFLICT)
    return figures | {Slot.CLOSED: told, large[0]: NOTHING}


def arrows_righted(draft: Draft, figures: dict[Slot, Figure]) -> dict[Slot, Figure]:
    """Closed and cross exchanged where bare arrows tell them apart and closed would be the less.

    An arrow beside a line that runs across the spine points along the spine for one maker, along
    the line for another; the strengths themselves know better. Never sure.
    """
    closed, cross = figures[Slot.CLOSED], figures[Slot.CROSS]
    if closed.kN is None or cross.kN is None or closed.kN >= cross.kN:
        return figures
    signs = [c.sign.glyph.char for c in draft.claims if c.sign and c.slot is not Slot.OPEN]
    if len(signs) < 2 or not ARROWS.issuperset(signs):
        return figures
    exchanged = {Slot.CLOSED: cross, Slot.CROSS: closed}
    return figures | {s: doubted(f, Doubt.SLOT_CONFLICT) for s, f in exchanged.items()}


def compared(figures: dict[Slot, Figure]) -> dict[Slot, Figure]:
    """Across or with the gate open no connector holds more than closed along its spine.

    Where one seems to, either figure may be the misread one, however well it was seen.
    """
    out = dict(figures)
    for slot in (Slot.CROSS, Slot.OPEN):
        closed, other = out[Slot.CLOSED], out[slot]
        if closed.kN is None or other.kN is None or other.kN <= closed.kN:
            continue
        for name, figure in ((Slot.CLOSED, closed), (slot, other)):
            out[name] = doubted(figure, Doubt.OUT_OF_RANGE)
    return out


def corrected(
    value: Decimal, confidence: float, box: Quad | None, doubts: Sequence[Doubt], doubt: Doubt
) -> Figure:
    """Another value in the place of one out of range: asked, half as confident, one doubt more."""
    kept = tuple(d for d in doubts if d is not Doubt.OUT_OF_RANGE)
    return doubted(Figure(value, State.ASK, 0.5 * confidence, box, kept), doubt)


def doubted(figure: Figure, doubt: Doubt) -> Figure:
    """The figure with one more doubt; it is not sure then."""
    state = State.ASK if figure.state is State.SURE else figure.state
    return replace(figure, state=state, doubts=tuple(dict.fromkeys((*figure.doubts, doubt))))

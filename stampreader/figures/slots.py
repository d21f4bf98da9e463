"""Numbers to slots: one small assignment over the whole stamp.

Every way to give the three slots to the numbers is scored under every habit of placing
pictograms (`links.HABITS`). The score of a number in a slot is

    log role(slot) + log(fit of a pictogram of that slot + LOOSE)

with `role` the mean vote of its digits, and the score of leaving it out is
log role(none) + log of how often such numbers are none. A pictogram left without a number costs
log(LONELY). Normalised over all ways this gives the probability that a number belongs to a slot.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

from stampreader.figures.lines import Line
from stampreader.figures.links import HABITS, Sign, find_signs, fits
from stampreader.figures.tokens import Number
from stampreader.words import SLOTS, Slot

LOOSE = 0.02  # fit of a number that has no pictogram
LINKED = 0.2  # fit from which a number counts as linked with a pictogram
SERVED = 0.15  # fit from which a pictogram has found its number
LONELY = 0.25  # a pictogram whose number was not found
NONE_WITH_UNIT = 0.02  # a number in kN that is no strength of the three directions
NONE_WITHOUT_UNIT = 0.06
ROLE_FLOOR = 0.02
STRENGTH_VOTED = 0.15  # vote for none below which a number without unit is a strength
VOTED = 0.6  # mean vote for a slot that may stand for a missing pictogram
MOST_NUMBERS = 7
SAME_SET = 1.5  # figures of one stamp differ in height by no more than this factor
LEAST_KN = 3  # less is no figure to complete a stamp with
PART_SPACE = 1.2  # largest free space, in heights, round a decimal point that was not seen

Tables = dict[str, list[list[float]]]
"""By habit, how well each pictogram fits each number."""


@dataclass(frozen=True, slots=True)
class Claim:
    """A number taken for the figure of a slot.

    Attributes:
        slot: the direction of load.
        number: the number.
        probability: that the number belongs to this slot, over all assignments.
        sign: the pictogram it is linked with, if any.
        habit: where the stamp's pictograms stand, a key of `links.HABITS`.
        pictured: the pictogram was seen by another reader only.
        by_order: the slot was taken from the order alone.
        rival: another number that would take the slot as well, with another value.
    """

    slot: Slot
    number: Number
    probability: float
    sign: Sign | None
    habit: str = "before"
    pictured: bool = False
    by_order: bool = False
    rival: Number | None = None


@dataclass(frozen=True, slots=True)
class _Way:
    """One assignment under one habit: a number index or -1 for each slot."""

    score: float
    habit: str
    chosen: tuple[int, int, int]


def assign(numbers: Sequence[Number], lines: Sequence[Line]) -> tuple[Claim, ...]:
    """The likeliest assignment of numbers to slots.

    Args:
        numbers: numbers that may be figures, in reading order.
        lines: lines of the stamp they point into.
    """
    signs = find_signs(lines)
    tables = {habit: fits(numbers, signs, lines, habit) for habit in HABITS}
    kept = _foremost(numbers, tables)
    if not kept:
        return ()
    numbers = [numbers[n] for n in kept]
    tables = {habit: [table[n] for n in kept] for habit, table in tables.items()}
    ways = [way for habit in HABITS for way in _ways(numbers, signs, tables[habit], habit)]
    top = max(way.score for way in ways)
    total = sum(math.exp(way.score - top) for way in ways)
    best = max(ways, key=lambda way: way.score)
    claims = []
    for k, slot in enumerate(SLOTS):
        n = best.chosen[k]
        if n < 0:
            continue
        share = sum(math.exp(w.score - top) for w in ways if w.chosen[k] == n) / total
        sign = _linked_sign(tables[best.habit][n], signs, k)
        if sign is None and role(numbers[n])[k + 1] < VOTED:
            continue
        claims.append(
            Claim(
                slot,
                numbers[n],
                share,
                sign,
                best.habit,
                rival=_rival(numbers, tables[best.habit], signs, best, k),
            )
        )
    return tuple(claims)


def _foremost(numbers: Sequence[Number], tables: Tables) -> list[int]:
    """Numbers worth weighing: with a unit, a vote or a pictogram near, at most `MOST_NUMBERS`."""
    near = [
        max(max(table[n], default=0.0) for table in tables.values()) for n in range(len(numbers))
    ]
    worth = [
        (near[n] + 1.0 - role(number)[0] + 0.5 * (number.unit == "KN"), n)
        for n, number in enumerate(numbers)
        if near[n] > 0.02 or number.unit == "KN" or role(number)[0] < 0.5
    ]
    return sorted(n for _, n in sorted(worth, reverse=True)[:MOST_NUMBERS])


def role(number: Number) -> tuple[float, float, float, float]:
    """Mean vote of a number's digits for none, closed, cross, open.

    The vote for a strength of unshown direction counts a third for each slot. Without votes all
    are alike.
    """
    votes = [g.role for g in number.glyphs if g.role is not None and g.char.isdigit()]
    if not votes:
        return 0.25, 0.25, 0.25, 0.25
    mean = [sum(vote[k] for vote in votes) / len(votes) for k in range(5)]
    none, closed, cross, open_ = (
        max(v, ROLE_FLOOR) for v in (mean[0], *(mean[k] + mean[4] / 3.0 for k in (1, 2, 3)))
    )
    return none, closed, cross, open_


def _ways(
    numbers: Sequence[Number], signs: Sequence[Sign], table: Sequence[Sequence[float]], habit: str
) -> list[_Way]:
    """All assignments under one habit with their scores."""
    votes = [role(n) for n in numbers]
    outside = [
        math.log(vote[0]) + math.log(NONE_WITH_UNIT if n.unit == "KN" else NONE_WITHOUT_UNIT)
        for n, vote in zip(numbers, votes, strict=True)
    ]
    gain = [
        [math.log(vote[k + 1]) + math.log(_slot_fit(row, signs, k) + LOOSE) - out for k in range(3)]
        for row, vote, out in zip(table, votes, outside, strict=True)
    ]
    lonely = [sign.glyph.confidence * math.log(LONELY) for sign in signs]
    serves = [[fit > SERVED for fit in row] for row in table]
    base = math.log(HABITS[habit]) + sum(outside)
    ways = []
    for chosen in product(range(-1, len(numbers)), repeat=3):
        used = [n for n in chosen if n >= 0]
        if len(set(used)) != len(used):
            continue
        score = base + sum(gain[n][k] for k, n in enumerate(chosen) if n >= 0)
        score += sum(
            cost for column, cost in enumerate(lonely) if not any(serves[n][column] for n in used)
        )
        ways.append(_Way(score, habit, (chosen[0], chosen[1], chosen[2])))
    return ways


def _slot_fit(row: Sequence[float], signs: Sequence[Sign], slot: int) -> float:
    return max(
        (fit * sign.chances[slot] for fit, sign in zip(row, signs, strict=True)), default=0.0
    )


def _linked_sign(row: Sequence[float], signs: Sequence[Sign], slot: int) -> Sign | None:
    linked = [
        (fit * sign.chances[slot], -column)
        for column, (fit, sign) in enumerate(zip(row, signs, strict=True))
        if fit >= LINKED and fit * sign.chances[slot] >= LINKED / 2
    ]
    return signs[-max(linked)[1]] if linked else None


def _rival(
    numbers: Sequence[Number],
    table: Sequence[Sequence[float]],
    signs: Sequence[Sign],
    best: _Way,
    slot: int,
) -> Number | None:
    """A number of another value that stands at a pictogram of the same slot and at no other."""
    mine = numbers[best.chosen[slot]].value
    linked = {
        n for k, n in enumerate(best.chosen) if n >= 0 and _slot_fit(table[n], signs, k) > LINKED
    }
    for n, number in enumerate(numbers):
        if n not in linked and number.value != mine and _slot_fit(table[n], signs, slot) > LINKED:
            return number
    return None


def by_order(numbers: Sequence[Number]) -> tuple[Claim, ...]:
    """A proposal from the order alone: closed, cross, open for exactly three strengths.

    Only where a unit stands at one of them or their digits vote for strengths, and the first is
    the largest. Nobody lays this order down, so whoever uses it must ask.
    """
    values = [n.value for n in numbers]
    if len(numbers) != 3 or None in values:
        return ()
    shown = any(n.unit == "KN" for n in numbers) or all(
        role(n)[0] < STRENGTH_VOTED for n in numbers
    )
    first, *others = (v for v in values if v is not None)
    if not shown or any(v >= first for v in others):
        return ()
    return _in_order(numbers)


def pair(numbers: Sequence[Number]) -> tuple[Claim, ...]:
    """The only two numbers of a stamp without pictograms, one in kN: closed, then cross.

    Where two strengths are stamped they are those with the gate closed (common practice, no
    source); nobody lays this down, so whoever uses it must ask.
    """
    if len(numbers) != 2 or not any(n.unit == "KN" for n in numbers):
        return ()
    first, second = (n.value for n in numbers)
    if first is None or second is None or second >= first:
        return ()
    return _in_order(numbers)


def _in_order(numbers: Sequence[Number]) -> tuple[Claim, ...]:
    """Numbers for the first slots: closed, cross, open."""
    return tuple(
        Claim(slot, number, 1.0 / 3.0, None, by_order=True)
        for slot, number in zip(SLOTS, numbers, strict=False)
    )


def alone(numbers: Sequence[Number]) -> tuple[Claim, ...]:
    """The only number in kN of a stamp without pictograms, proposed as closed.

    Where one strength is stamped it is the one along the spine (common practice, no source);
    without a pictogram a person has to say so.
    """
    if len(numbers) != 1 or numbers[0].unit != "KN":
        return ()
    return (Claim(Slot.CLOSED, numbers[0], 0.5, None),)


def with_parts(
    numbers: Sequence[Number], claims: Sequence[Claim], lines: Sequence[Line]
) -> Sequence[Number]:
    """Numbers, of which one in two parts is made whole: a figure at its pictogram without a unit,
    and a lone digit right behind it that has one and no pictogram. The point was not seen.

    Example: 15 and 5 kN become 15.5 kN.
    """
    signed = [c.number for c in claims if c.sign is not None]
    out = list(numbers)
    for whole in signed:
        for part in numbers:
            if part not in signed and _is_part(whole, part, lines):
                made = replace(
                    part,
                    text=f"{whole.text}.{part.text}",
                    places=(*whole.places, *part.places),
                    glyphs=(*whole.glyphs, *part.glyphs),
                    crowded=True,
                )
                out[out.index(whole)] = made
                out.remove(part)
    return out if len(out) != len(numbers) else numbers


def _is_part(whole: Number, part: Number, lines: Sequence[Line]) -> bool:
    last = whole.places[-1]
    return (
        whole.unit is None
        and part.unit == "KN"
        and "." not in whole.text
        and len(part.text) == 1
        and part.line == whole.line
        and part.places[0] == last + 1
        and lines[whole.line].gap_after(last) < PART_SPACE
    )


def _of_a_set(number: Number, claimed: Sequence[Number]) -> bool:
    """Whether a number is set as large as figures are and not too small for one."""
    tall = sum(n.glyphs[0].height_px for n in claimed) / max(len(claimed), 1)
    like = 1 / SAME_SET < number.glyphs[0].height_px / max(tall, 1e-9) < SAME_SET
    return like and number.value is not None and number.value >= LEAST_KN


def completed(claims: Sequence[Claim], numbers: Sequence[Number]) -> tuple[Claim, ...]:
    """Claims with the slots that are left given to the numbers that are left, as by order.

    Only where three strengths stand on the stamp in all and the ones with a pictogram stand where
    the usual order has them, or one alone is left over. Such a figure is asked, never sure.
    """
    claimed = [c.number for c in claims]
    free = [n for n in numbers if n not in claimed and n.unit == "KN" and _of_a_set(n, claimed)]
    if len(claims) + len(free) != 3 or not free or any(c.number.value is None for c in claims):
        return tuple(claims)
    slots = [slot for slot in SLOTS if slot not in {c.slot for c in claims}]
    ordered = sorted((*claimed, *free), key=lambda n: (n.line, n.places[0]))
    usual = all(ordered[SLOTS.index(c.slot)] == c.number for c in claims)
    if len(free) > 1 and not usual:
        return tuple(claims)
    guessed = (Claim(s, n, 0.5, None, by_order=True) for s, n in zip(slots, free, strict=True))
    whole = {c.slot: c for c in (*claims, *guessed)}
    values = [whole[slot].number.value for slot in SLOTS]
    largest = all(v is not None and values[0] is not None and v <= values[0] for v in values)
    return tuple(whole[slot] for slot in SLOTS) if largest else tuple(claims)

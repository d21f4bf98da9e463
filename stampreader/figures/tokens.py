"""Numbers, units and words in a line that is read the right way round."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from stampreader.figures.geometry import in_frame
from stampreader.figures.lines import Line
from stampreader.words import Glyph

UNITS: tuple[str, ...] = ("KN", "LBF", "LBS", "LB", "DAN", "KGF", "KG", "KP", "T")
"""Units looked for behind a number, longer before shorter."""

TWINS: dict[str, str] = {
    **{c: "0" for c in "OQD"},
    **{c: "1" for c in "Iil"},
    **{"S": "5", "B": "8", "Z": "2", "G": "6", "g": "9", "q": "9", "b": "6"},
}
"""Letters that a figure's digit is taken for; the digit needs the reader's own second choice."""

TWIN_FLOOR = 0.05  # least probability the reader must give the digit it did not choose
PARTS = 0.44  # space beyond the usual one of a line, in heights, that parts two numbers
CLOSE = 0.27  # space beyond the usual one up to which characters stand against each other
DOUBTFUL = 0.5  # beyond what parts: a digit nearer than this may still belong to the number
BESIDE_POINT = 0.75  # space beyond the usual one beside a decimal point
USUAL_SPACE = 0.18  # where a line does not tell
MOST_USUAL = 0.75  # a line spaced wider than this is taken for separate characters
STUTTER = re.compile("K{1,4}N{1,2}")
"""A kN of which a letter was seen more than once: dots and worn strokes break one into several."""
UNIT_SPACE = 1.3  # largest free space between a number and its unit
WORD_SPACE = 1.6  # largest free space between a word and the number it speaks of

_SHAPE = re.compile(r"\d{1,3}(\.\d{1,2})?")


@dataclass(frozen=True, slots=True)
class Number:
    """A number with its unit as it stands in a line.

    Attributes:
        text: digits and point as stamped.
        line: which line of the stamp.
        places: positions of its glyphs in the line.
        glyphs: its glyphs, with `char` and `confidence` as taken.
        unit: one of `UNITS`, or `None`.
        unit_places: positions of the unit's letters.
        attached: letters stand against it that are no unit: part of a serial or type.
        crowded: a space that may be wide enough to part two numbers, or a doubtful hole.
    """

    text: str
    line: int
    places: tuple[int, ...]
    glyphs: tuple[Glyph, ...]
    unit: str | None = None
    unit_places: tuple[int, ...] = ()
    attached: bool = False
    crowded: bool = False

    @property
    def value(self) -> Decimal | None:
        """The number's value; `None` if it is not a number with at most one point."""
        try:
            return Decimal(self.text) if self.text.count(".") <= 1 else None
        except ArithmeticError:
            return None

    @property
    def is_strength_like(self) -> bool:
        """One to three digits, perhaps with decimals, nothing against it: a figure in kN may be."""
        return bool(_SHAPE.fullmatch(self.text)) and self.text[0] != "0" and not self.attached


def find_numbers(
    line: Line,
    index: int,
    cuts: frozenset[int] = frozenset(),
    taken: frozenset[int] = frozenset(),
) -> tuple[Number, ...]:
    """All numbers of a line with the units behind (or, failing that, before) them.

    Args:
        line: a line read the right way round.
        index: which line of the stamp it is.
        cuts: places behind which a new number begins, whatever the space.
        taken: places of marks, serials and dates, which may be set in another type.
    """
    usual = usual_space(line, taken)
    glyphs = _digits_resolved(line, usual)
    numbers = []
    for run in _digit_runs(line, glyphs, usual, cuts):
        places = _one_point(glyphs, run)
        number = _trimmed(
            Number(
                "".join(glyphs[p].char for p in places),
                index,
                tuple(places),
                tuple(glyphs[p] for p in places),
                crowded=_crowded(line, glyphs, places, usual, cuts),
            )
        )
        if number.text:
            numbers.append(_with_unit(number, line, glyphs, usual))
    return tuple(_units_before(numbers, line, glyphs))


def usual_space(line: Line, taken: frozenset[int] = frozenset()) -> float:
    """Free space between neighbouring digits of a line, in heights.

    Makers space characters from touching to more than half a height apart. The lower third of
    the spaces between digits is taken, since the wide ones part numbers; but not much more than
    stands between the letters of the unit, which are often set smaller.
    """
    pairs = [p for p in range(len(line.glyphs) - 1) if not {p, p + 1} & taken]
    digits = _lower_third(line, [p for p in pairs if _both(line, p, str.isdigit)])
    units = [p for p in pairs if line.glyphs[p].char == "K" and line.glyphs[p + 1].char in "Nn"]
    letters = _lower_third(line, units or [p for p in pairs if _both(line, p, str.isalpha)])
    if digits is None and letters is None:
        return USUAL_SPACE
    if digits is None or letters is None:
        usual = letters if digits is None else digits
    else:
        usual = min(digits, 1.6 * letters + 0.1)
    return min(max(usual or 0.0, 0.0), MOST_USUAL)


def _both(line: Line, place: int, kind: Callable[[str], bool]) -> bool:
    return kind(line.glyphs[place].char) and kind(line.glyphs[place + 1].char)


def _lower_third(line: Line, places: Sequence[int]) -> float | None:
    spaces = sorted(line.gap_after(p) for p in places)
    return spaces[len(spaces) // 3] if spaces else None


def _crowded(
    line: Line,
    glyphs: Sequence[Glyph],
    places: Sequence[int],
    usual: float,
    cuts: frozenset[int],
) -> bool:
    """Whether a number's ends are open to doubt.

    Its digits stand unevenly apart, or another digit stands just outside it and no column parts
    the two.
    """
    spaces = [
        line.gap_after(p) for p in places[:-1] if "." not in glyphs[p].char + glyphs[p + 1].char
    ]
    if any(space > usual + PARTS - 0.1 for space in spaces):
        return True
    for edge in (places[0] - 1, places[-1]):
        if edge < 0 or edge + 1 >= len(glyphs):
            continue
        outer = glyphs[edge] if edge < places[0] else glyphs[edge + 1]
        parts = usual + PARTS + (0.0 if edge in cuts else DOUBTFUL)
        if outer.char.isdigit() and line.gap_after(edge) < parts:
            return True
    return False


def _digits_resolved(line: Line, usual: float) -> list[Glyph]:
    """Glyphs of the line with letters that must be digits taken as such.

    Only where the reader itself gave the digit a chance, between or beside digits, and not where
    the letter spells a unit.
    """
    glyphs = list(line.glyphs)
    for _ in range(2):
        for place, glyph in enumerate(glyphs):
            twin = TWINS.get(glyph.char)
            chance = dict(glyph.alternatives).get(twin or "", 0.0)
            if twin is None or chance < TWIN_FLOOR or not _beside_digit(line, glyphs, place, usual):
                continue
            rest = (
                *((c, p) for c, p in glyph.alternatives if c != twin),
                (glyph.char, glyph.confidence),
            )
            glyphs[place] = replace(glyph, char=twin, confidence=chance, alternatives=rest)
    return glyphs


def _beside_digit(line: Line, glyphs: Sequence[Glyph], place: int, usual: float) -> bool:
    before = place > 0 and line.gap_after(place - 1) < usual + CLOSE
    after = place + 1 < len(glyphs) and line.gap_after(place) < usual + CLOSE
    digit_before = before and glyphs[place - 1].char.isdigit()
    digit_after = after and glyphs[place + 1].char.isdigit()
    unit_after = bool(_unit_at(glyphs, place + 1)) and after
    letter_before = before and glyphs[place - 1].char.isalpha()
    return not letter_before and (digit_before or digit_after or unit_after)


def _digit_runs(
    line: Line, glyphs: Sequence[Glyph], usual: float, cuts: frozenset[int]
) -> Iterable[list[int]]:
    """Places of digits and points that stand together."""
    run: list[int] = []
    for place, glyph in enumerate(glyphs):
        joins = glyph.char.isdigit() or glyph.char == "."
        if run and (not joins or place - 1 in cuts or _parted(line, glyphs, place - 1, usual)):
            yield run
            run = []
        if joins:
            run.append(place)
    if run:
        yield run


def _one_point(glyphs: Sequence[Glyph], run: Sequence[int]) -> list[int]:
    """The places of a run, of points that follow each other only the most probable one."""
    kept: list[int] = []
    for place in run:
        if kept and glyphs[place].char == glyphs[kept[-1]].char == ".":
            if glyphs[place].confidence > glyphs[kept[-1]].confidence:
                kept[-1] = place
        else:
            kept.append(place)
    return kept


def _parted(line: Line, glyphs: Sequence[Glyph], place: int, usual: float) -> bool:
    """Whether the space behind a glyph parts two numbers; beside a point much space may be."""
    gap = line.gap_after(place)
    if glyphs[place + 1].char == ".":
        return gap > usual + BESIDE_POINT or _raised(line, place + 1)
    if glyphs[place].char == ".":
        return gap > usual + BESIDE_POINT or _raised(line, place)
    return gap > usual + PARTS


def _raised(line: Line, place: int) -> bool:
    """Whether a point stands at half height, where it parts numbers; at the foot it is decimal."""
    point = line.glyphs[place]
    solid = [g for g in (*line.glyphs[place::-1], *line.glyphs[place:]) if g.char != "."]
    beside = solid[0] if solid else point
    _, down = in_frame((beside.x, beside.y), line.tangents_deg[place], (point.x, point.y))
    return down < 0.15 * line.height_px


def _trimmed(number: Number) -> Number:
    """The number without points at its ends: a full stop or a separator."""
    text = number.text
    head = len(text) - len(text.lstrip("."))
    tail = len(text.rstrip("."))
    return replace(
        number,
        text=text.strip("."),
        places=number.places[head:tail],
        glyphs=number.glyphs[head:tail],
        crowded=number.crowded or (head > 0 and bool(text.strip("."))),
    )


def _unit_at(glyphs: Sequence[Glyph], place: int) -> tuple[str, int] | None:
    """The unit whose letters begin at a place, with its number of glyphs; the longest that fits."""
    found = []
    for unit in UNITS:
        part = glyphs[place : place + len(unit)]
        if len(part) == len(unit):
            chances = [_chance(g, c) for g, c in zip(part, unit, strict=True)]
            if min(chances) > 0.05 and sum(chances) / len(unit) > 0.25:
                found.append((len(unit), sum(chances), unit))
    return (max(found)[2], max(found)[0]) if found else None


def _chance(glyph: Glyph, letter: str) -> float:
    """Probability that a glyph is a letter, in either case."""
    if glyph.char.upper() == letter:
        return glyph.confidence
    return sum(p for char, p in glyph.alternatives if char.upper() == letter)


def _with_unit(number: Number, line: Line, glyphs: Sequence[Glyph], usual: float) -> Number:
    last = number.places[-1]
    first = number.places[0]
    attached = (
        first > 0
        and glyphs[first - 1].char.isalpha()
        and line.gap_after(first - 1) < usual + CLOSE
        and not _closes_unit(glyphs, first - 1)
    )
    if last + 1 >= len(glyphs):
        return replace(number, attached=attached)
    gap = line.gap_after(last)
    found = _unit_at(glyphs, last + 1) if gap < UNIT_SPACE else None
    if found and not _letter_at(line, glyphs, last + found[1], usual):
        places = tuple(range(last + 1, last + 1 + found[1]))
        return replace(number, unit=found[0], unit_places=places, attached=attached)
    half = _half_unit(line, glyphs, last + 1, usual) if gap < UNIT_SPACE else ()
    if half:
        return replace(number, unit="KN", unit_places=half, attached=attached)
    against = glyphs[last + 1].char.isalpha() and gap < usual + CLOSE
    return replace(number, attached=attached or against)


def _half_unit(line: Line, glyphs: Sequence[Glyph], place: int, usual: float) -> tuple[int, ...]:
    """A kN behind a number of which a letter was missed, misread or seen more than once."""
    if glyphs[place].char not in ("K", "N"):
        return ()
    if not _letter_at(line, glyphs, place, usual):
        return (place,)
    end = place
    while _letter_at(line, glyphs, end, usual):
        end += 1
    if STUTTER.fullmatch("".join(g.char for g in glyphs[place : end + 1])):
        return tuple(range(place, end + 1))
    follower = glyphs[place + 1]
    other = "N" if glyphs[place].char == "K" else "K"
    alone = end == place + 1
    if alone and glyphs[place].char == "K" and _chance(follower, other) > 0.01:
        return place, place + 1
    return ()


def _letter_at(line: Line, glyphs: Sequence[Glyph], place: int, usual: float) -> bool:
    """Whether another letter follows close behind a place."""
    return (
        place + 1 < len(glyphs)
        and glyphs[place + 1].char.isalpha()
        and line.gap_after(place) < usual + CLOSE
    )


def _closes_unit(glyphs: Sequence[Glyph], place: int) -> bool:
    """Whether a unit ends at a place: in `24kN8kN` the 8 is not part of a serial."""
    return any(
        place + 1 >= len(unit)
        and all(
            _chance(g, c) > 0.05
            for g, c in zip(glyphs[place + 1 - len(unit) : place + 1], unit, strict=True)
        )
        for unit in UNITS
        if len(unit) > 1
    )


def _units_before(
    numbers: Sequence[Number], line: Line, glyphs: Sequence[Glyph]
) -> Iterable[Number]:
    """Gives a number the kN that stands before it, if no number stands before that kN."""
    taken = {place for number in numbers for place in number.unit_places}
    for number in numbers:
        start = number.places[0] - 2
        if (
            number.unit is None
            and start >= 0
            and not {start, start + 1} & taken
            and min(_chance(glyphs[start], "K"), _chance(glyphs[start + 1], "N")) > 0.2
            and line.gap_after(start + 1) < UNIT_SPACE
        ):
            yield replace(number, unit="KN", unit_places=(start, start + 1), attached=False)
        else:
            yield number


def word_before(line: Line, place: int) -> tuple[Glyph, ...]:
    """The word just before a place, at most a space away from it; empty if there is none."""
    letters: list[Glyph] = []
    for k in range(place - 1, -1, -1):
        glyph = line.glyphs[k]
        most = WORD_SPACE if not letters else 1.0
        if glyph.char == "." and not letters:
            continue
        if not glyph.char.isalpha() or line.gap_after(k) > most:
            break
        letters.append(glyph)
    return tuple(reversed(letters))


def ends_with(word: Sequence[Glyph], text: str) -> bool:
    """Whether a word ends with a text, one letter in four read as another."""
    part = word[-len(text) :]
    if len(part) < len(text):
        return False
    wrong = sum(_chance(g, c) < 0.02 for g, c in zip(part, text, strict=True))
    return wrong <= len(text) // 4

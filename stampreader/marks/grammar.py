"""A small grammar over cells: fixed words, fields of digits, letters of a class, separators.

A pattern is a tuple of parts; matching tries all ways and gives, for each, where it ends, how
probable it is and the fields it filled. Fixed words tolerate what readers confuse on metal, since
the word is known; free digits must have been read as digits or been the reader's own second
choice, since nothing else can tell them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from stampreader.marks.cells import BREAK, TWINS, Cell

INSIDE = 0.75  # largest space, in heights, inside a word or a number
BETWEEN = 2.6  # largest space between parts
TIGHT = 0.4  # space below which characters stand against each other
SLIP = 0.75  # a character of a fixed word read as its twin
SECOND_CHOICE = 0.1  # least probability of a digit the reader did not choose itself

EMPTY: Mapping[str, str] = {}


@dataclass(frozen=True, slots=True)
class Match:
    """One way a pattern fits: the end, the probability, the fields, the number of slips."""

    end: int
    chance: float = 1.0
    fields: Mapping[str, str] = field(default_factory=dict)
    used: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Word:
    """A fixed word, such as `CE` or `12275`; one slip in four characters is forgiven."""

    text: str
    name: str = ""
    value: str = ""

    def match(self, cells: Sequence[Cell], at: int, limit: float) -> Iterator[Match]:
        """Matches the word's characters one by one."""
        if at >= len(cells) or not cells[at].may_be(self.text[0]):
            return
        row = _row(cells, at, len(self.text), limit)
        if row is None or not all(c.may_be(w) for c, w in zip(row, self.text, strict=True)):
            return
        slips = sum(c.char != w for c, w in zip(row, self.text, strict=True))
        if slips > (len(self.text) + 1) // 4:
            return
        chance = SLIP**slips
        for cell, want in zip(row, self.text, strict=True):
            if cell.char == want:
                chance *= 1.0 - 0.3 * (1.0 - cell.confidence)
        fields = {self.name: self.value or self.text} if self.name else EMPTY
        yield Match(at + len(self.text), chance, fields, tuple(range(at, at + len(self.text))))


@dataclass(frozen=True, slots=True)
class Digits:
    """A field of exactly `count` digits; `like` restricts its first characters."""

    name: str
    count: int
    like: tuple[str, ...] = ()

    def match(self, cells: Sequence[Cell], at: int, limit: float) -> Iterator[Match]:
        """Matches digits that were read as such, none standing against them."""
        row = _row(cells, at, self.count, limit)
        if row is None or _digit_follows(cells, at + self.count):
            return
        read = [_digit(cell) for cell in row]
        if any(not digit for digit, _ in read):
            return
        text = "".join(digit for digit, _ in read)
        if self.like and not text.startswith(self.like):
            return
        chance = 1.0
        for _, p in read:
            chance *= p
        yield Match(at + self.count, chance, {self.name: text}, tuple(range(at, at + self.count)))


@dataclass(frozen=True, slots=True)
class Letter:
    """One letter of a class, no other letter or digit standing against it.

    It stands close by; only a ringed one may stand farther off or on the next line.
    """

    name: str
    among: str

    def match(self, cells: Sequence[Cell], at: int, limit: float) -> Iterator[Match]:
        """Matches a lone letter."""
        row = _row(cells, at, 1, limit)
        if row is None or _stands_against(cells, at + 1):
            return
        cell = row[0]
        if cell.gap >= BREAK and not cell.ringed:
            return
        if cell.char in self.among:
            yield Match(at + 1, cell.confidence, {self.name: cell.char}, (at,))
            return
        twins = [c for c in self.among if cell.others.get(c, 0.0) > 0.25]
        if len(twins) == 1 and not cell.char.isalpha():
            yield Match(at + 1, cell.others[twins[0]], {self.name: twins[0]}, (at,))


@dataclass(frozen=True, slots=True)
class Sep:
    """Any of some separators, or none."""

    among: str = "-:/."
    required: bool = False

    def match(self, cells: Sequence[Cell], at: int, limit: float) -> Iterator[Match]:
        """Matches one separator or, where it is not required, nothing."""
        if at < len(cells) and cells[at].char in self.among and cells[at].gap <= limit:
            yield Match(at + 1, 1.0, EMPTY, (at,))
        if not self.required:
            yield Match(at)


@dataclass(frozen=True, slots=True)
class Either:
    """One of several patterns; an empty one makes it optional."""

    ways: tuple[Pattern, ...]

    def match(self, cells: Sequence[Cell], at: int, limit: float) -> Iterator[Match]:
        """Matches every way in turn."""
        for way in self.ways:
            yield from match(way, cells, at, limit)


Part = Word | Digits | Letter | Sep | Either
Pattern = tuple[Part, ...]


def maybe(*parts: Part) -> Either:
    """Parts that may be there or not."""
    return Either((parts, ()))


def words(*texts: str) -> Either:
    """One of several fixed words."""
    return Either(tuple((Word(text),) for text in texts))


def match(
    pattern: Pattern, cells: Sequence[Cell], at: int, limit: float = BETWEEN
) -> Iterator[Match]:
    """All ways a pattern fits from a cell on; `limit` is the largest space before a part."""
    if not pattern:
        yield Match(at)
        return
    for head in pattern[0].match(cells, at, limit):
        for tail in match(pattern[1:], cells, head.end, BETWEEN):
            yield Match(
                tail.end,
                head.chance * tail.chance,
                {**head.fields, **tail.fields},
                head.used + tail.used,
            )


@dataclass(frozen=True, slots=True)
class Rule:
    """A kind of mark: its pattern and how its fields are written in normal form.

    Attributes:
        kind: `mark`, `serial`, `date` or `half` (seen but not whole).
        pattern: the grammar.
        form: text with field names in braces; parts in square brackets vanish if a field is
            missing.
        note: a remark for the person.
        floor: least probability of a match.
    """

    kind: str
    pattern: Pattern
    form: str = ""
    note: str = ""
    floor: float = 0.3


def _row(cells: Sequence[Cell], at: int, count: int, limit: float) -> Sequence[Cell] | None:
    """Cells that stand together, the first not too far from what came before."""
    row = cells[at : at + count]
    if len(row) < count or (at > 0 and row[0].gap > limit):
        return None
    return None if any(cell.gap > INSIDE for cell in row[1:]) else row


def _digit(cell: Cell) -> tuple[str, float]:
    """The digit a cell was read as, or the reader's second choice if a letter was the first."""
    if cell.char.isdigit():
        return cell.char, cell.confidence
    choices = [(p, c) for c, p in cell.others.items() if c.isdigit() and p >= SECOND_CHOICE]
    if not choices or not any({cell.char, max(choices)[1]} <= g for g in TWINS):
        return "", 0.0
    return max(choices)[1], max(choices)[0]


def _digit_follows(cells: Sequence[Cell], at: int) -> bool:
    return at < len(cells) and cells[at].char.isdigit() and cells[at].gap < TIGHT


def _stands_against(cells: Sequence[Cell], at: int) -> bool:
    return (
        at < len(cells)
        and (cells[at].char.isalpha() or cells[at].char.isdigit())
        and cells[at].gap < TIGHT
    )

"""Finding marks, serials and dates in lines of glyphs or in typed text."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from stampreader.marks.cells import Cell, Place, box_of, follows, joined, line_cells, text_cells
from stampreader.marks.grammar import TIGHT, Match, Rule, match
from stampreader.marks.rules import CLASS_12275, DATES, EDITIONS, HALVES, MARKS
from stampreader.words import Glyph, Mark

LEAST = 0.55  # a mark less probable than this is only noted
UNKNOWN_EDITION = 0.7  # trust in a year of issue that is not in our table
SERIAL_WORDS = ("SERIAL", "S/N", "SN", "LOT", "BATCH", "NR", "NO")
_BRACKETED = re.compile(r"\[([^\]]*)\]")
_OPTIONAL_FIELD = re.compile(r"\{(\w+)\}")


@dataclass(frozen=True, slots=True)
class Span:
    """Glyphs that belong together and are no figure.

    Attributes:
        places: line and position of each glyph.
        mark: the standard mark; `None` for a serial, a date or half a mark.
        serial: serial or lot string.
        date: year, or year and month, as `2019` or `2019-03`.
        note: a remark for the person.
    """

    places: frozenset[Place]
    mark: Mark | None = None
    serial: str | None = None
    date: str | None = None
    note: str | None = None


def find_marks(lines: Sequence[Sequence[Glyph]]) -> tuple[Mark, ...]:
    """The standard marks in lines of glyphs in reading order.

    Returns:
        Marks in normal form with the confidence that all of it was read right. A mark of which
        only a part was seen is not among them.
    """
    return tuple(span.mark for span in find_spans(lines) if span.mark is not None)


def find_spans(lines: Sequence[Sequence[Glyph]]) -> tuple[Span, ...]:
    """Marks, serials, dates and halves of marks, with the glyphs each takes up."""
    rows = [line_cells(line, n) for n, line in enumerate(lines)]
    goes_on = [follows(a, b) for a, b in pairwise(lines)]
    spans = _ringed_class(_spans(rows, goes_on), rows)
    return tuple(
        replace(s, mark=replace(s.mark, box=box_of(lines, sorted(s.places)))) if s.mark else s
        for s in spans
    )


def normal_form(text: str) -> tuple[Mark, ...]:
    """The standard marks in typed text, in normal form.

    Example: `normal_form("EN362:04 B")` gives the mark `EN 362:2004/B`.
    """
    rows = text_cells(text)
    spans = _spans(rows, [True] * (len(rows) - 1))
    return tuple(span.mark for span in spans if span.mark is not None)


def _spans(rows: Sequence[Sequence[Cell]], goes_on: Sequence[bool]) -> tuple[Span, ...]:
    """Spans of all rows; a mark that goes on in the next row beats its first half."""
    spans: list[Span] = []
    taken: set[Place] = set()
    for n, row in enumerate(rows):
        following = rows[n + 1] if n + 1 < len(rows) and goes_on[n] else ()
        for span in _row_spans(row, following, taken):
            spans.append(span)
            taken |= span.places
    return tuple(spans)


def _row_spans(row: Sequence[Cell], following: Sequence[Cell], taken: set[Place]) -> list[Span]:
    cells = joined(row, following)
    used = set(taken)
    spans = []
    at = 0
    while at < len(row):
        span, end = _at(cells, at, len(row), used)
        if span is not None:
            spans.append(span)
            used |= span.places
        at = max(end, at + 1)
    return spans


def _at(cells: Sequence[Cell], at: int, own: int, taken: set[Place]) -> tuple[Span | None, int]:
    """The best span that begins at a cell, and where it ends."""
    if cells[at].place in taken or not _begins(cells, at, taken):
        return None, at + 1
    for rules in (MARKS, DATES, HALVES):
        found = _best(rules, cells, at)
        if found is not None:
            rule, hit = found
            return _span(rule, hit, cells), hit.end
    serial = _serial(cells[:own], at)
    return serial if serial[0] is not None else (None, at + 1)


def _begins(cells: Sequence[Cell], at: int, taken: set[Place]) -> bool:
    """Whether a word may begin here: after a space, another kind of character, or another mark."""
    if at == 0 or cells[at].gap > TIGHT or cells[at - 1].place in taken:
        return True
    before, here = cells[at - 1].char, cells[at].char
    if before.startswith("<") or before in "/-:.":
        return before not in "/-:." or not here.isdigit()
    return before.isdigit() and here.isalpha()


def _best(rules: Sequence[Rule], cells: Sequence[Cell], at: int) -> tuple[Rule, Match] | None:
    """The longest way any rule fits from a cell on; of equal ones the likeliest."""
    hits = [
        (len(hit.used), hit.chance, -n, hit)
        for n, rule in enumerate(rules)
        for hit in match(rule.pattern, cells, at)
        if hit.used and hit.chance >= rule.floor and _ends(cells, hit)
    ]
    if not hits:
        return None
    *_, n, hit = max(hits, key=lambda h: h[:3])
    return rules[-n], hit


def _ends(cells: Sequence[Cell], hit: Match) -> bool:
    """Whether nothing of the same kind stands against the end of a match, but for another mark."""
    if hit.end >= len(cells) or cells[hit.end].gap >= TIGHT:
        return True
    last, after = cells[hit.end - 1].char, cells[hit.end].char
    if not (last.isdigit() and after.isdigit()) and not (last.isalpha() and after.isalpha()):
        return True
    return _mark_begins(cells, hit.end)


def _mark_begins(cells: Sequence[Cell], at: int) -> bool:
    return any(
        hit.used and hit.chance >= rule.floor
        for rule in MARKS
        for hit in match(rule.pattern, cells, at)
    )


def _span(rule: Rule, hit: Match, cells: Sequence[Cell]) -> Span:
    places = frozenset(cells[k].place for k in hit.used)
    fields = {**hit.fields}
    if len(fields.get("year", "")) == 2 and rule.kind == "mark":
        fields["year"] = _century(fields["year"])
    text = _written(rule.form, fields)
    if rule.kind == "date":
        return Span(places, date=text)
    if rule.kind == "half":
        return Span(places, note=rule.note)
    chance = hit.chance * (UNKNOWN_EDITION if _unknown_edition(text, fields) else 1.0)
    if chance < LEAST or _goes_on(cells, hit):
        return Span(places, note=f"{text} was seen, but perhaps not all of it; look again.")
    return Span(places, Mark(text, round(chance, 4)))


def _unknown_edition(text: str, fields: dict[str, str]) -> bool:
    known = next((y for name, y in EDITIONS.items() if text.startswith(name)), None)
    return known is not None and "year" in fields and fields["year"] not in known


def _goes_on(cells: Sequence[Cell], hit: Match) -> bool:
    """Whether a separator follows close behind: the mark has a part that was not read."""
    last = hit.end
    return (
        last < len(cells)
        and cells[last].char in ("/", ":")
        and cells[last].gap < TIGHT
        and (last + 1 == len(cells) or cells[last + 1].gap > TIGHT)
    )


def _century(year: str) -> str:
    """Two digits of a year of issue: standards for this gear began in the nineties."""
    return ("19" if int(year) >= 80 else "20") + year


def _written(form: str, fields: dict[str, str]) -> str:
    """A form with its fields filled in; bracketed parts with a missing field vanish."""

    def part(found: re.Match[str]) -> str:
        names = _OPTIONAL_FIELD.findall(found.group(1))
        return found.group(1) if all(name in fields for name in names) else ""

    return _BRACKETED.sub(part, form).format(**fields)


def _serial(cells: Sequence[Cell], at: int) -> tuple[Span | None, int]:
    """A serial or lot string: behind its word, or a long run of digits and letters."""
    start = at
    for word in SERIAL_WORDS:
        if "".join(c.char for c in cells[at : at + len(word)]) == word:
            start = at + len(word)
            break
    while start > at and start < len(cells) and cells[start].char in ".:-/":
        start += 1
    end = start
    while (
        end < len(cells)
        and _in_serial(cells[end])
        and (end == start or cells[end].gap < TIGHT)
        and not (end > start and cells[end - 1].char.isdigit() and _mark_begins(cells, end))
    ):
        end += 1
    text = "".join(c.char for c in cells[start:end]).strip("-/.")
    labelled = start > at
    enough = _labelled_serial(text) if labelled else _long_serial(text)
    if not labelled and _unit_follows(cells, end):
        enough = False
    if not enough or not _begins(cells, at, set()):
        return None, at + 1
    return Span(frozenset(c.place for c in cells[at:end]), serial=text), end


def _labelled_serial(text: str) -> bool:
    return len(text) >= 3 and sum(c.isdigit() for c in text) >= 2


def _long_serial(text: str) -> bool:
    """Whether a run without a word before it is long enough: `22-9-7` is no serial."""
    groups = re.split(r"[-/]", text)
    return len(text) >= 6 and any(sum(c.isdigit() for c in g) >= 4 for g in groups)


def _unit_follows(cells: Sequence[Cell], at: int) -> bool:
    """Whether a unit of force stands behind or at the end of a run."""
    near = "".join(c.char for c in cells[max(at - 3, 0) : at + 3])
    return any(unit in near for unit in ("KN", "LBF", "LBS", "LB", "DAN", "KG"))


def _in_serial(cell: Cell) -> bool:
    return cell.char.isdigit() or cell.char.isalpha() or cell.char in "-/"


def _ringed_class(spans: Sequence[Span], rows: Sequence[Sequence[Cell]]) -> tuple[Span, ...]:
    """Gives an EN 12275 without class the one ringed letter that stands elsewhere on the stamp."""
    taken = {place for span in spans for place in span.places}
    ringed = [c for row in rows for c in row if c.ringed and c.place not in taken]
    bare = [
        s for s in spans if s.mark and s.mark.text.startswith("EN 12275") and "/" not in s.mark.text
    ]
    if len(ringed) != 1 or len(bare) != 1 or ringed[0].char not in CLASS_12275:
        return tuple(spans)
    cell, span = ringed[0], bare[0]
    assert span.mark is not None
    mark = Mark(f"{span.mark.text}/{cell.char}", round(span.mark.confidence * cell.confidence, 4))
    whole = replace(span, mark=mark, places=span.places | {cell.place})
    return tuple(whole if s is span else s for s in spans)

"""The page round the drawing: title, verdict, every margin, warnings, legend, caution."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from stampreader.paper import A4, Rect
from stampreader.report.rig_picture import symbols
from stampreader.report.rig_picture.draw import draw
from stampreader.report.rig_picture.scene import height_wanted, lay_out
from stampreader.report.rig_picture.strokes import (
    HAIR,
    PT,
    QUIET,
    WASH,
    Line,
    Stroke,
    Text,
    box,
    shortened_to,
    width_mm,
    wrapped,
)
from stampreader.rig import Outcome, Row, Way, Worked
from stampreader.units import in_lbf, round_down, round_up
from stampreader.words import CAUTION

EDGE = 12.0
WIDE = A4.width - 2 * EDGE
LEAST_DRAWING, MOST_DRAWING = 92.0, 146.0
ROW = 4.5
RULED = 6
LEADING = 3.3
TEXT, SMALL, TINY = 8.0, 7.2, 6.4
WAYS = {
    Way.HOLDING: "ropes held still (friction the worse way at each turn)",
    Way.RAISING: "ropes raising",
    Way.LOWERING: "ropes lowering",
}


def page(worked: Worked, printed_at: datetime) -> Iterator[Stroke]:
    """A rig on one A4 page."""
    head = list(_head(worked))
    top = _bottom(head) + 3.0
    notes = _notes(worked)
    foot_top = A4.height - EDGE - 14.5
    notes_high = sum(len(lines) for _, lines in notes) * LEADING
    room = foot_top - 2.0 - notes_high - top - LEAST_DRAWING - 12.0
    columns = 1 if len(worked.rows) * ROW <= min(room, 75.0) else 2
    rows = worked.rows[: max(1, int(room / ROW)) * columns]
    if len(rows) < len(worked.rows):
        count = len(worked.rows) - len(rows)
        hidden = f"{count} more pieces, none with a lower margin, are not listed here."
        notes.append((False, [hidden]))
        notes_high += LEADING
    table_high = -(-len(rows) // columns) * ROW + 9.0 if rows else 3.0
    most = foot_top - 2.0 - notes_high - table_high - top
    frame = Rect(
        EDGE,
        top,
        WIDE,
        min(most, MOST_DRAWING, max(LEAST_DRAWING, height_wanted(worked, WIDE - 3) + 3)),
    )
    yield from head
    yield box(frame, 0.25, HAIR)
    yield from draw(lay_out(worked, frame.shrunk(1.5)))
    y = frame.y + frame.height
    yield from _table(worked, rows, columns, y + 5.2)
    y += table_high
    yield from _set_notes(notes, y)
    yield from _by_hand(y + notes_high + 5.0, foot_top - 4.0)
    yield from _foot(worked, foot_top, printed_at)


def _by_hand(y: float, end: float) -> Iterator[Stroke]:
    """Ruled lines for what people write on the sheet, where there is room for them."""
    if end - y < 12.0:
        return
    yield Text((EDGE, y + 2.0), "notes, checked by", TINY, colour=QUIET)
    for _ in range(RULED):
        if (y := y + 8.0) > end:
            return
        yield Line(((EDGE, y), (EDGE + WIDE, y)), 0.15, HAIR)


def _bottom(strokes: list[Stroke]) -> float:
    """How far down the page some strokes reach."""
    return max(
        max(y for _, y in stroke.spots) if isinstance(stroke, Line) else stroke.at[1]
        for stroke in strokes
    )


def _head(worked: Worked) -> Iterator[Stroke]:
    plan = worked.plan
    y = EDGE + 5.0
    yield Text((EDGE, y), shortened_to(plan.title, 16, WIDE, bold=True), 16, bold=True)
    for text in plan.about:
        for line in wrapped(text, TEXT, WIDE):
            y += 4.1
            yield Text((EDGE, y), line, TEXT, colour=QUIET)
    y += 5.2
    loads = ", ".join(
        f"{round_up(point.force_kN, 2)} kN ({round_up(in_lbf(point.force_kN), 0)} lbf)"
        for point in plan.points.values()
        if point.force_kN is not None
    )
    facts = f"Load {loads}, ratio {plan.ratio}:1, {_way(worked)}"
    if worked.advantage is not None:
        raising = int(worked.advantage.raising * 100) / 100
        facts += f", advantage {worked.advantage.ideal:.2f}:1, with friction {raising:.2f}:1"
    for line in wrapped(facts, TEXT, WIDE, bold=True):
        yield Text((EDGE, y), line, TEXT, bold=True)
        y += 4.0
    yield from _verdict(worked, y - 0.8)


def _way(worked: Worked) -> str:
    """Which way the ropes move, where friction makes a difference."""
    rubs = any((point.efficiency or 1) < 1 for point in worked.plan.points.values())
    return WAYS[worked.plan.way] if rubs or worked.plan.way is not Way.HOLDING else "at rest"


def _verdict(worked: Worked, y: float) -> Iterator[Stroke]:
    """The system's margin in one line, with its sign."""
    yield box(Rect(EDGE, y, WIDE, 9.6), 0.6, fill=WASH)
    yield from symbols.sign(worked.outcome, (EDGE + 5.6, y + 4.8), 3.0)
    row = worked.weakest
    if row is None:
        words = "No margin: the plan names no hardware with a figure"
    else:
        words = f"System margin {row.margin} at {row.place} ({row.hold.name}): "
        words += verdict_words(worked.outcome, worked)
    yield Text((EDGE + 11.5, y + 6.3), shortened_to(words, 11.5, WIDE - 14, True), 11.5, bold=True)


def verdict_words(outcome: Outcome, worked: Worked) -> str:
    """A verdict with the ratio it speaks of."""
    if outcome in (Outcome.KEEPS, Outcome.UNDER_RATIO):
        return f"{outcome} {worked.plan.ratio}:1"
    return str(outcome)


def _table(worked: Worked, rows: tuple[Row, ...], columns: int, y: float) -> Iterator[Stroke]:
    """Every piece of hardware, weakest first, in one or two columns."""
    if not rows:
        return
    deep = -(-len(rows) // columns)
    wide = (WIDE - 6.0 * (columns - 1)) / columns
    for column in range(columns):
        x = EDGE + column * (wide + 6.0)
        stops = _stops(x, wide)
        for stop, words, align in zip(stops, HEADS, ALIGNS, strict=True):
            yield Text((stop, y), words, TINY, align=align, colour=QUIET)
        yield Line(((x, y + 1.3), (x + wide, y + 1.3)), 0.4)
        for index, row in enumerate(rows[column * deep : (column + 1) * deep]):
            yield from _row(worked, row, stops, x, wide, y + 1.3 + (index + 1) * ROW)


HEADS = ("place", "hardware", "force", "strength", "margin", "")
ALIGNS = ("left", "left", "right", "right", "right", "left")


def _stops(x: float, wide: float) -> tuple[float, ...]:
    shares = (0.0, 0.24, 0.60, 0.80, 0.93, 0.965)
    return tuple(x + share * wide for share in shares)


def _row(
    worked: Worked, row: Row, stops: tuple[float, ...], x: float, wide: float, y: float
) -> Iterator[Stroke]:
    kN = row.hold.strength_kN(row.slot)
    direction = f" {row.slot}" if row.hold.is_connector and kN is not None else ""
    strength = "no figure" if kN is None else f"{round_down(kN, 2).normalize():f} kN{direction}"
    margin = "unknown" if row.judged.strength is None else str(row.margin or "–")
    cells = (row.place, row.hold.name, f"{row.force_kN} kN", strength, margin)
    bold = row is worked.weakest
    for index, (stop, text, align) in enumerate(zip(stops, cells, ALIGNS, strict=False)):
        room = (stops[index + 1] - stop if align == "left" else wide * 0.2) - 1.0
        if index == 1:
            room -= width_mm("00.00 kN", SMALL)
        shown = shortened_to(text, SMALL, room, bold or index == 4)
        yield Text((stop, y - 1.25), shown, SMALL, bold or index == 4, align)
    yield from symbols.sign(row.outcome, (stops[5] + 2.0, y - 2.2), 1.5)
    yield Line(((x, y), (x + wide, y)), 0.15, HAIR)


def _notes(worked: Worked) -> list[tuple[bool, list[str]]]:
    """Warnings (marked) and assumptions, broken into lines."""
    notes = [(True, f"{warning}.") for warning in worked.warnings]
    notes += [(False, f"Not judged: {n} names no hardware.") for n in worked.unjudged]
    notes += [(False, f"Assumed: {text}.") for text in worked.assumptions]
    if worked.estimate is not None:
        fall, peak = worked.estimate.fall, worked.estimate.peak_kN
        text = f"a fall of {fall.drop_m:g} m may put about {peak:.1f} kN on {fall.load}"
        notes.append((True, f"ESTIMATE, not in the margins: {text}."))
    return [(marked, wrapped(text, SMALL, WIDE - 5.5)) for marked, text in notes]


def _set_notes(notes: list[tuple[bool, list[str]]], y: float) -> Iterator[Stroke]:
    for marked, lines in notes:
        if marked:
            yield from symbols.sign(Outcome.UNDER_RATIO, (EDGE + 1.8, y + 1.6), 1.35)
        for line in lines:
            yield Text((EDGE + 4.6, y + 2.5), line, SMALL, bold=marked)
            y += LEADING


LEGEND = (
    (Outcome.KEEPS, "keeps the ratio"),
    (Outcome.UNDER_RATIO, "under the ratio"),
    (Outcome.UNDER_ONE, "would fail"),
    (Outcome.UNKNOWN, "no figure, not allowed"),
    (Outcome.BARRED, "not to be used"),
)


def _foot(worked: Worked, y: float, printed_at: datetime) -> Iterator[Stroke]:
    yield Line(((EDGE, y), (A4.width - EDGE, y)), 0.3)
    x = EDGE + 1.6
    for outcome, words in LEGEND:
        yield from symbols.sign(outcome, (x, y + 3.2), 1.35)
        yield Text((x + 2.4, y + 4.1), words, TINY)
        x += 2.4 + width_mm(words, TINY) + 4.2
    note = "drawn to scale; wheels, grabs and gear are symbols"
    yield Text((A4.width - EDGE, y + 4.1), note, TINY, align="right", colour=QUIET)
    for line in wrapped(CAUTION, SMALL, WIDE, bold=True):
        yield Text((EDGE, y + 8.0), line, SMALL, bold=True)
        y += SMALL * PT * 1.3
    last = (
        f"{worked.plan.source}   {printed_at:%Y-%m-%d %H:%M} UTC   forces in kN rounded up, "
        "margins cut off; a strand's figure is the most it carries"
    )
    yield Text((EDGE, A4.height - EDGE + 2.5), shortened_to(last, TINY, WIDE), TINY, colour=QUIET)

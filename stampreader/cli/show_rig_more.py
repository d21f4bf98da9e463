"""What else was asked of a rig: mishaps, a number varied, the fall, the kit, the working."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Any

import typer

from stampreader.cli.rigging import Answer
from stampreader.cli.show_rig import in_columns, margin_text, row_json, styled
from stampreader.rig import Filled, KitLine, Mishap, Outcome, Row, Varied, WhatIf, Worked

SIGNS = {
    Outcome.KEEPS: "+",
    Outcome.UNDER_RATIO: "!",
    Outcome.UNDER_ONE: "X",
    Outcome.UNKNOWN: "?",
    Outcome.BARRED: "X",
}
BAR = 30


def more_lines(answer: Answer) -> Iterator[str]:
    """Everything beyond the table, each under its heading."""
    if answer.estimated is not None:
        yield from _fall(answer.worked, answer.estimated)
    if answer.mishaps is not None:
        yield from _mishaps(answer.mishaps, answer.worked.plan.ratio)
    for varied in answer.varied:
        yield from _varied(varied, answer.worked.plan.ratio)
    if answer.filled is not None:
        yield from _filled(answer.filled)
    if answer.kit:
        yield from _kit(answer.kit)
    if answer.working:
        yield from _head("Working")
        yield from answer.working


def _head(text: str) -> Iterator[str]:
    yield ""
    yield typer.style(text, bold=True)


def _fall(worked: Worked, estimated: Worked) -> Iterator[str]:
    estimate = worked.estimate
    assert estimate is not None
    fall = estimate.fall
    yield from _head("ESTIMATE of a fall, not part of the margins above")
    yield (
        f"{fall.drop_m:g} m onto {fall.rope_m:g} m of rope: fall factor {estimate.factor:.2f}, "
        f"peak about {estimate.peak_kN:.1f} kN at {fall.load} ({fall.source}, "
        f"{fall.modulus_kN:.1f} kN). The rope is taken for a spring and all else for rigid; real "
        "peaks have been measured up to 30 % higher in hard falls."
    )
    rows = [_estimate_cells(row) for row in estimated.rows if row.judged.strength is not None]
    yield from in_columns(("place", "hardware", "peak, about", "strength over peak"), rows)


def _estimate_cells(row: Row) -> list[str]:
    would_fail = row.judged.exact is not None and row.judged.exact < 1
    shown = margin_text(row) + (", " + styled(Outcome.UNDER_ONE) if would_fail else "")
    return [row.place, row.hold.name, f"{row.force_kN} kN", shown]


def _mishaps(mishaps: WhatIf, ratio: Decimal) -> Iterator[str]:
    yield from _head(f"What if one thing goes wrong: margin left, against {ratio}:1")
    rows = [
        [line.planned.place, line.planned.hold.name, *map(_left, _three(line))]
        for line in mishaps.connectors
    ]
    if rows:
        heads = ("place", "connector", "as planned", "crosswise", "gate open")
        yield from in_columns(heads, rows)
    legs = [[mishap.where, _left(mishap.row), _then(mishap)] for mishap in mishaps.legs]
    if legs:
        yield from in_columns(("leg gone", "margin left", "weakest then, at rest"), legs)
    yield "+ keeps the ratio   ! under the ratio   X would fail, or not to be used   ? no figure"
    for outcome, words in (
        (Outcome.UNDER_ONE, "Alone brings it under 1"),
        (Outcome.UNDER_RATIO, f"Alone brings it under {ratio}:1"),
        (Outcome.UNKNOWN, "Cannot be told, no figure"),
    ):
        found = mishaps.leading_to(outcome)
        if found or outcome is not Outcome.UNKNOWN:
            yield f"{words}: {_by_place(found)}."


def _by_place(mishaps: Sequence[Mishap]) -> str:
    """Mishaps gathered by place: `left (turned crosswise, gate open)`."""
    places: dict[str, dict[str, None]] = {}
    for mishap in mishaps:
        places.setdefault(mishap.where, {})[mishap.what.value] = None
    return ", ".join(f"{place} ({', '.join(what)})" for place, what in places.items()) or "nothing"


def _three(line: Any) -> tuple[Row | None, Row | None, Row | None]:
    return line.planned, line.cross.row, line.open.row


def _left(row: Row | None) -> str:
    outcome = Outcome.UNDER_ONE if row is None else row.outcome
    return f"{SIGNS[outcome]} {margin_text(row)}"


def _then(mishap: Mishap) -> str:
    if mishap.row is None:
        return "nothing holds the load"
    return f"{mishap.row.place} ({mishap.row.hold.name}) {mishap.row.force_kN} kN"


def _varied(varied: Varied, ratio: Decimal) -> Iterator[str]:
    measured = f" ({varied.convention})" if varied.convention else ""
    yield from _head(f"Varied: {varied.name}{measured}, against {ratio}:1")
    known = [s.worked.weakest for s in varied.steps if s.worked is not None]
    most = max((row.judged.exact for row in known if row and row.judged.exact), default=None)
    rows = []
    for step in varied.steps:
        value = f"{step.value:g}{' ' if varied.unit.isalpha() else ''}{varied.unit}"
        if step.worked is None:
            rows.append([value, "-", "-", "-", step.refused])
            continue
        row = step.worked.weakest
        share = float(row.judged.exact / most) if row and row.judged.exact and most else 0.0
        bar = "#" * max(1, round(share * BAR)) if row else ""
        sign = SIGNS[step.worked.outcome]
        place = "-" if row is None else f"{row.place} {row.force_kN} kN"
        rows.append([value, sign, margin_text(row) if row else "unknown", place, bar])
    heads = (varied.name.split(".")[-1], " ", "margin", "weakest", "")
    yield from in_columns(heads, rows)
    yield from _crossings(varied, ratio)


def _crossings(varied: Varied, ratio: Decimal) -> Iterator[str]:
    for crossing in varied.crossings:
        side = "up to" if crossing.keeps_below else "from"
        unit = f" {varied.unit}" if varied.unit.isalpha() else varied.unit
        yield f"Keeps {ratio}:1 {side} {crossing.value}{unit}."
    if not varied.crossings:
        yield f"Does not cross {ratio}:1 in this range."


def _filled(filled: Filled) -> Iterator[str]:
    yield from _head("Open places")
    rows = [
        [place.place, place.use, f"{place.slot} {place.needs_kN} kN", f"{known.id} {known.name}"]
        for place, known in filled.chosen
    ]
    yield from in_columns(("place", "for", "needs", "chosen"), rows) if rows else iter(())
    yield from (why for _, why in filled.empty)
    if not filled.chosen and not filled.empty:
        yield "The plan has no open place."


def _kit(kit: tuple[KitLine, ...]) -> Iterator[str]:
    yield from _head("Kit")
    rows = [
        [str(line.count), line.name, ", ".join(line.places), margin_text(line.rows[0])]
        for line in kit
    ]
    yield from in_columns(("count", "hardware", "places", "lowest margin"), rows)


def more_json(answer: Answer) -> Iterator[dict[str, Any]]:
    """The same as JSON rows."""
    estimate = answer.worked.estimate
    if estimate is not None and answer.estimated is not None:
        yield {
            "row": "estimate",
            "fall_factor": round(estimate.factor, 4),
            "peak_kN": round(estimate.peak_kN, 2),
            "modulus_kN": round(estimate.fall.modulus_kN, 2),
            "strength_over_peak": {
                f"{row.place} ({row.hold.name})": row.margin for row in answer.estimated.rows
            },
        }
    if answer.mishaps is not None:
        yield from (_mishap_json(mishap) for mishap in answer.mishaps.mishaps)
    for varied in answer.varied:
        yield from _varied_json(varied)
    if answer.filled is not None:
        yield {
            "row": "filled",
            "chosen": [
                {"place": p.place, "for": p.use, "id": k.id} for p, k in answer.filled.chosen
            ],
            "empty": [{"place": p.place, "for": p.use, "why": w} for p, w in answer.filled.empty],
        }
    for line in answer.kit:
        yield {
            "row": "kit",
            "count": line.count,
            "hardware": line.name,
            "id": line.id,
            "places": line.places,
            "lowest_margin": line.rows[0].margin,
        }
    if answer.working:
        yield {"row": "working", "lines": answer.working}


def _mishap_json(mishap: Mishap) -> dict[str, Any]:
    left = {} if mishap.row is None else row_json(mishap.row)
    return {**left, "row": "mishap", "what": mishap.what, "where": mishap.where,
            "verdict": mishap.outcome}  # fmt: skip


def _varied_json(varied: Varied) -> Iterator[dict[str, Any]]:
    for step in varied.steps:
        weakest = None if step.worked is None else step.worked.weakest
        yield {
            "row": "varied",
            "name": varied.name,
            "value": step.value,
            "unit": varied.unit,
            "convention": varied.convention or None,
            "margin": None if weakest is None else weakest.margin,
            "weakest": None if weakest is None else weakest.place,
            "verdict": None if step.worked is None else step.worked.outcome,
            "refused": step.refused or None,
        }
    for crossing in varied.crossings:
        yield {
            "row": "crossing",
            "name": varied.name,
            "value": crossing.value,
            "unit": varied.unit,
            "keeps": "below" if crossing.keeps_below else "above",
        }

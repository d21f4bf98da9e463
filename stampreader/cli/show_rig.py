"""A rig on the screen: one table, weakest first, the system's margin and what speaks against it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Any

import typer

from stampreader.cli.common import emit_json, show_caution
from stampreader.cli.rigging import Answer
from stampreader.rig import Outcome, Row, Way, Worked
from stampreader.units import in_lbf, round_down, round_up
from stampreader.words import CAUTION

STYLES: dict[Outcome, dict[str, Any]] = {
    Outcome.KEEPS: {"fg": "blue"},
    Outcome.UNDER_RATIO: {"fg": "yellow", "bold": True},
    Outcome.UNDER_ONE: {"fg": "red", "bold": True},
    Outcome.UNKNOWN: {"fg": "yellow", "bold": True},
    Outcome.BARRED: {"fg": "red", "bold": True},
}
WAYS = {
    Way.HOLDING: "Ropes held still, friction counted the worse way at each turn",
    Way.RAISING: "Ropes raising, friction against the hand",
    Way.LOWERING: "Ropes lowering, friction helps the hand",
}
HEADS = ("place", "hardware", "loaded", "force", "strength", "margin", "verdict")


def show_rig(answer: Answer, *, as_json: bool) -> None:
    """Print everything that was asked of a plan."""
    from stampreader.cli.show_rig_more import more_json, more_lines

    if as_json:
        emit_json([*_rows_json(answer.worked), *more_json(answer), _system_json(answer.worked)])
        return
    for line in (*_heading(answer.worked), *_table(answer.worked), *_system(answer.worked)):
        typer.echo(line)
    for line in more_lines(answer):
        typer.echo(line)
    typer.echo("")
    show_caution()


def in_columns(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Rows as aligned columns, the last one free; nothing is cut to fit a screen."""
    widths = [max(len(row[i]) for row in (heads, *rows)) for i in range(len(heads) - 1)]
    for row in (heads, *rows):
        cells = [text.ljust(width) for text, width in zip(row, widths, strict=False)]
        yield "  ".join([*cells, row[-1]]).rstrip()


def styled(outcome: Outcome, text: str | None = None) -> str:
    """A verdict in its colour; the word itself says the same."""
    return typer.style(text or outcome.value, **STYLES[outcome])


def _heading(worked: Worked) -> Iterator[str]:
    plan = worked.plan
    yield typer.style(plan.title, bold=True)
    yield from plan.about
    loads = [
        f"{name} {round_up(point.force_kN, 2)} kN ({round_up(in_lbf(point.force_kN), 0)} lbf)"
        for name, point in plan.points.items()
        if point.force_kN is not None
    ]
    yield f"Load: {', '.join(loads)}. Ratio {plan.ratio}:1. {_way(worked)}."
    angles = [f"{anchor.name} {anchor.angle}" for anchor in plan.anchors if anchor.angle]
    if angles:
        yield f"Angles as given: {'; '.join(angles)}."
    yield "Forces are rounded up, margins cut off."
    yield ""


def _way(worked: Worked) -> str:
    """Which way the ropes move, where friction makes a difference."""
    rubs = any((point.efficiency or 1) < 1 for point in worked.plan.points.values())
    still = worked.plan.way is Way.HOLDING and not rubs
    return "At rest, no friction in the plan" if still else WAYS[worked.plan.way]


def _table(worked: Worked) -> Iterator[str]:
    """Every piece of hardware, weakest first."""
    if not worked.rows:
        yield "The plan names no hardware: add held_by to its points."
    else:
        yield from in_columns(HEADS, [_cells(row) for row in worked.rows])


def _cells(row: Row) -> list[str]:
    kN = row.hold.strength_kN(row.slot)
    strength = "no figure" if kN is None else f"{round_down(kN, 2).normalize():f} kN"
    loaded = row.slot.value if row.hold.is_connector else "-"
    verdict = row.outcome.value + (f": {row.hold.barred}" if row.hold.barred else "")
    return [
        row.place,
        row.hold.name,
        loaded,
        f"{row.force_kN} kN",
        strength,
        margin_text(row),
        styled(row.outcome, verdict),
    ]


def margin_text(row: Row | None) -> str:
    """A margin as the table shows it."""
    if row is None:
        return "nothing left"
    if row.judged.strength is None:
        return "unknown"
    return "no force" if row.margin is None else str(row.margin)


def _system(worked: Worked) -> Iterator[str]:
    yield ""
    weakest = worked.weakest
    if weakest is not None:
        yield (
            f"System: margin {weakest.margin} at {weakest.place} ({weakest.hold.name}), "
            f"{styled(worked.outcome)} {worked.plan.ratio}:1."
            if worked.outcome in (Outcome.KEEPS, Outcome.UNDER_RATIO)
            else f"System: margin {weakest.margin} at {weakest.place} ({weakest.hold.name}); "
            f"{styled(worked.outcome)}."
        )
    advantage = worked.advantage
    if advantage is not None:
        yield (
            f"Mechanical advantage {advantage.ideal:.2f}:1 without friction, "
            f"{round_down(Fraction(advantage.raising), 2)}:1 raising with it; "
            f"hand {round_up(Fraction(advantage.hand_kN * (1 - 1e-10)), 2)} kN."
        )
    for warning in worked.warnings:
        yield typer.style(f"! {warning}.", fg="yellow", bold=True)
    for name in worked.unjudged:
        yield f"Not judged: {name} carries a force and names no hardware."
    for text in worked.assumptions:
        yield f"Assumed: {text}."


def row_json(row: Row) -> dict[str, Any]:
    """One piece of hardware as JSON; force rounded up, margin down."""
    return {
        "row": "hardware",
        "place": row.place,
        "hardware": row.hold.name,
        "id": row.hold.id,
        "loaded": row.slot if row.hold.is_connector else None,
        "force_kN": row.force_kN,
        "strength_kN": row.hold.strength_kN(row.slot),
        "margin": row.margin,
        "verdict": row.outcome,
        "not_to_be_used": row.hold.barred,
    }


def _rows_json(worked: Worked) -> Iterator[dict[str, Any]]:
    yield from (row_json(row) for row in worked.rows)


def _system_json(worked: Worked) -> dict[str, Any]:
    weakest, advantage = worked.weakest, worked.advantage
    return {
        "row": "system",
        "title": worked.plan.title,
        "ratio": worked.plan.ratio,
        "way": worked.plan.way,
        "margin": None if weakest is None else weakest.margin,
        "weakest": None if weakest is None else weakest.place,
        "verdict": worked.outcome,
        "advantage_ideal": None if advantage is None else round(advantage.ideal, 6),
        "advantage_raising": None if advantage is None else round(advantage.raising, 6),
        "hand_kN": None if advantage is None else round_up(Fraction(advantage.hand_kN), 4),
        "points_kN": {
            name: round_up(Fraction(force * (1 - 1e-10)), 4)
            for name, force in worked.forces.points.items()
        },
        "warnings": worked.warnings,
        "not_judged": worked.unjudged,
        "assumptions": worked.assumptions,
        "caution": CAUTION,
    }

"""Intervals of inspection: as typed, as set, and who asks for what."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from textwrap import wrap

import typer

from stampreader.cli.common import emit_json
from stampreader.errors import UsageError
from stampreader.register import Intervals, Register, set_interval
from stampreader.standards import REGIMES

USUAL = "usual"
NOTE = "The maker's instructions and your local rules come first; the shortest demand holds."


def set_months(register: Register, kit: str, months: str, *, who: str, at: datetime) -> None:
    """Give a kit an interval as typed.

    Raises:
        UsageError: not a whole number of months.
    """
    if months.strip().lower() == USUAL:
        set_interval(register, kit, None, who=who, at=at)
        return
    text = months.strip()
    if not (text.isascii() and text.isdigit() and len(text) < 5):
        raise UsageError(
            f"'{months}' is no number of months", remedy=f"Give a number such as 6, or '{USUAL}'."
        )
    set_interval(register, kit, int(text), who=who, at=at)


def show_intervals(intervals: Intervals, kit: str | None, *, as_json: bool) -> None:
    """The interval of one kit, or all that are set."""
    rows: list[tuple[str | None, int]] = [(None, intervals.months), *intervals.kits.items()]
    if kit is not None:
        rows = [(kit, intervals.months_of(kit))]
    if as_json:
        emit_json({"kit": name, "months": months} for name, months in rows)
        return
    for name, months in rows:
        typer.echo(f"{months:>3} months  {name or 'everywhere else'}")


def show_regimes(*, as_json: bool) -> None:
    """Who asks for which interval, with sources."""
    if as_json:
        emit_json(
            {
                "who": regime.who,
                "months": regime.months,
                "asks": regime.asks,
                "source": regime.source,
                "confidence": str(regime.confidence),
            }
            for regime in REGIMES
        )
        return
    typer.echo("\n".join(_regime_lines()))


def _regime_lines() -> Iterator[str]:
    for regime in REGIMES:
        months = "each use" if regime.months is None else f"{regime.months} months"
        yield f"{months:>9}  {regime.who}"
        for text in (regime.asks, f"Source: {regime.source} ({regime.confidence})."):
            yield from (f"           {line}" for line in wrap(text, 85))
    yield ""
    yield NOTE

"""One sitting of confirming, at a terminal or without one."""

from __future__ import annotations

from collections.abc import Sequence

import typer

from stampreader.cli.ask import ask_all, can_ask
from stampreader.cli.common import emit_json, now, say
from stampreader.cli.deliveries import difference_lines, waiting_rows
from stampreader.cli.taking_in import Report
from stampreader.register import Register, waiting


def tell_report(report: Report) -> None:
    """What became of the photos, on standard error."""
    for line in (*report.failed, *report.known):
        say(line)
    say(
        f"{report.read} photos read, {report.kept} read before, {len(report.known)} known already, "
        f"{len(report.failed)} not readable; {len(report.arrived)} connectors to confirm."
    )


def sit_down(
    register: Register, deliveries: Sequence[str], who: str, *, as_json: bool = False
) -> bool:
    """Compare with the order, ask what waits, and tell what is left.

    Returns:
        Whether nothing waits any more.
    """
    if as_json:
        for delivery in deliveries:
            emit_json(waiting_rows(waiting(register, delivery)))
        _tell_differences(register, deliveries, to_error=True)
    else:
        _tell_differences(register, deliveries)
        if can_ask():
            _ask(register, deliveries, who)
    left = sum(len(waiting(register, delivery)) for delivery in deliveries)
    if left:
        say(f"{left} waiting. Confirm them at a terminal with `{_how(register, deliveries)}`.")
    return not left


def _ask(register: Register, deliveries: Sequence[str], who: str) -> None:
    for delivery in deliveries:
        if not waiting(register, delivery):
            continue
        typer.echo(f"\nDelivery {delivery}, confirmed in the name of {who}")
        if not ask_all(register, delivery, who, now):
            return
        _tell_differences(register, [delivery])


def _tell_differences(
    register: Register, deliveries: Sequence[str], *, to_error: bool = False
) -> None:
    for delivery in deliveries:
        for line in difference_lines(register, delivery):
            typer.echo(line, err=to_error)


def _how(register: Register, deliveries: Sequence[str]) -> str:
    where = f' --delivery "{deliveries[0]}"' if len(deliveries) == 1 else ""
    return f"stampreader confirm{where} --register {register.path}"

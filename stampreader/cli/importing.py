"""An import as asked for: which kind of file it is, row by row or as a merger."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass
from pathlib import Path

import typer

from stampreader.cli.choosing import typed_marks
from stampreader.cli.common import emit_json, now, register_path, say
from stampreader.cli.person import who_decides
from stampreader.cli.printing import printing_tools
from stampreader.cli.show_merger import merger_json, merger_lines
from stampreader.errors import ImportRefused, UsageError
from stampreader.register import (
    DayOrder,
    Register,
    RowPlan,
    TableFile,
    Verdict,
    enter_rows,
    heading_at,
    import_lines,
    map_columns,
    open_register,
    plan_rows,
    read_settings,
    read_table,
)

EXCHANGE = (".jsonl", ".ndjson", ".json")


@dataclass(frozen=True, slots=True)
class Wanted:
    """An import as asked for; see the options of `stampreader import`."""

    file: Path
    maps: tuple[str, ...] = ()
    sheet: str = ""
    heading_row: int = 1
    encoding: str = ""
    dates: str = "iso"
    skip_refused: bool = False
    dry_run: bool = False
    who: str | None = None
    as_json: bool = False
    register: Path | None = None


def import_file(wanted: Wanted) -> int:
    """Import a file of either kind; the exit status.

    Raises:
        ImportRefused: the file is not understood.
        UsageError: an option that does not fit.
    """
    if wanted.file.suffix.lower() in EXCHANGE:
        return _import_exchange(wanted)
    if wanted.dates not in tuple(DayOrder):
        raise UsageError(f"no order of dates '{wanted.dates}'", remedy="Give iso, dmy or mdy.")
    with printing_tools():
        table = read_table(
            wanted.file, sheet=wanted.sheet, heading_row=wanted.heading_row,
            encoding=wanted.encoding,
        )  # fmt: skip
    columns = map_columns(table, wanted.maps)
    if not wanted.as_json:
        _say_columns(table, columns)
    with _register(wanted) as register:
        return _import_table(register, wanted, table, columns)


@contextmanager
def _register(wanted: Wanted) -> Iterator[Register]:
    """The register; for a dry run where there is none yet, an empty one that is thrown away."""
    path = register_path(wanted.register)
    if wanted.dry_run and not path.exists():
        with (
            tempfile.TemporaryDirectory() as folder,
            open_register(Path(folder) / "empty.sqlite", create=True) as register,
        ):
            yield register
        return
    with open_register(path, create=not wanted.dry_run) as register:
        yield register


def _import_exchange(wanted: Wanted) -> int:
    try:
        lines = wanted.file.open("rb")
    except OSError as error:
        raise ImportRefused(
            f"cannot open {wanted.file}: {error.strerror or error}",
            remedy="Check its name and place.",
        ) from error
    with lines, _register(wanted) as register:
        person = who_decides(wanted.who, read_settings(register))
        merger = import_lines(
            register, lines, source=wanted.file.name, who=person, at=now(),
            rehearse=wanted.dry_run,
        )  # fmt: skip
    if wanted.as_json:
        emit_json([merger_json(merger, rehearsed=wanted.dry_run)])
    else:
        typer.echo("\n".join(merger_lines(merger, rehearsed=wanted.dry_run)))
    return 1 if merger.conflicts else 0


def _import_table(
    register: Register, wanted: Wanted, table: TableFile, columns: dict[int, str]
) -> int:
    # planned and entered in one transaction: another process cannot take an id in between
    with nullcontext() if wanted.dry_run else register.writing():
        plans, ids = _plan_and_enter(register, wanted, table, columns)
    refused = [plan for plan in plans if plan.verdict is Verdict.REFUSE]
    good = [plan for plan in plans if plan.verdict is Verdict.ENTER]
    if wanted.as_json:
        emit_json(_plan_json(plan, ids) for plan in plans)
    else:
        for line in _plan_lines(plans, ids, every=wanted.dry_run):
            typer.echo(line)
    _say_outcome(wanted, len(good), len(refused), len(plans), len(ids))
    return 1 if refused else 0


def _plan_and_enter(
    register: Register, wanted: Wanted, table: TableFile, columns: dict[int, str]
) -> tuple[list[RowPlan], dict[int, str]]:
    """Plans of all rows, and the ids of those entered; none if one is refused, unless skipped."""
    at = now()
    plans = plan_rows(
        register, table, columns, marks=typed_marks, at=at, days=DayOrder(wanted.dates)
    )
    good = [plan for plan in plans if plan.verdict is Verdict.ENTER]
    stops = any(plan.verdict is Verdict.REFUSE for plan in plans) and not wanted.skip_refused
    if wanted.dry_run or stops or not good:
        return plans, {}
    person = who_decides(wanted.who, read_settings(register))
    events = enter_rows(register, table, good, who=person, at=at)
    return plans, {event.body["row"]: event.body["fields"]["id"] for event in events}


def _say_columns(table: TableFile, columns: dict[int, str]) -> None:
    named = (f"{heading_at(table.headings, index)} = {name}" for index, name in columns.items())
    say(f"columns of {table.name}: {', '.join(named)}")


def _plan_json(plan: RowPlan, ids: dict[int, str]) -> dict[str, object]:
    return {
        "row": plan.number,
        "verdict": str(plan.verdict),
        "reasons": list(plan.reasons),
        "id": ids.get(plan.number, plan.fields.get("id")),
        "fields": dict(plan.fields),
        "steps": dict(plan.steps),
    }


def _plan_lines(plans: list[RowPlan], ids: dict[int, str], *, every: bool) -> Iterator[str]:
    for plan in plans:
        if plan.verdict is Verdict.REFUSE:
            yield f"row {plan.number}: refused: {'; '.join(plan.reasons)}"
        elif plan.verdict is Verdict.KNOWN:
            yield f"row {plan.number}: was imported before"
        elif every or plan.number in ids:
            yield (
                f"row {plan.number}: {ids.get(plan.number, plan.fields.get('id', 'a new id'))}, "
                + (_said(plan))
            )


def _said(plan: RowPlan) -> str:
    """An entry in a few words: every field and every step of its life."""
    fields = (
        f"{name} {', '.join(value) if isinstance(value, list) else value}"
        for name, value in plan.fields.items()
        if name != "id"
    )
    steps = (f"{name} {value}" for name, value in plan.steps.items())
    return ", ".join((*fields, *steps)) or "nothing but the id"


def _say_outcome(wanted: Wanted, good: int, refused: int, rows: int, entered: int) -> None:
    if wanted.dry_run:
        say(f"{good} of {rows} rows would be entered, {refused} refused; nothing was stored.")
    elif refused and not wanted.skip_refused:
        say(
            f"Nothing was imported: {refused} of {rows} rows refused. "
            "Correct them, or enter the others with --skip-refused."
        )
    else:
        say(f"{entered} of {rows} rows entered.")

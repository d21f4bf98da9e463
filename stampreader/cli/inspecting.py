"""The work of `inspect`: findings as typed or asked for, photos compared, all recorded."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from stampreader.cli.common import emit_json, now, register_path
from stampreader.cli.life_options import remark_lines, step_json, typed_day
from stampreader.cli.person import who_decides
from stampreader.errors import UsageError
from stampreader.fit import POINTS, CheckPoint, find_point, not_applicable
from stampreader.register import (
    LIFE_WORDS,
    Connector,
    Event,
    Inspection,
    Kind,
    Point,
    Register,
    Result,
    find_connector,
    next_due,
    open_register,
    read_intervals,
    read_settings,
    record_inspections,
    same_case,
)
from stampreader.register.life import present_state

if TYPE_CHECKING:
    from stampreader.cli.inspecting_photos import Looked
    from stampreader.cli.life_steps import Chosen, Told

Given = Mapping[str, tuple[Result, str]]
"""Result and note by the key of a point."""

NAMED_BY_PHOTO = "photo: "


@dataclass(frozen=True, slots=True)
class Findings:
    """The findings as typed; each may begin with `ID=` to hold for one connector only."""

    failed: Sequence[str] = ()
    passed: Sequence[str] = ()
    without: Sequence[str] = ()
    measured: Sequence[str] = ()
    photos: Sequence[str] = ()
    rest_passes: bool = False
    note: str = ""
    occasion: str = ""
    retire: str = ""


@dataclass
class Sheet:
    """What was said of one connector: points, measurements, photos."""

    points: dict[str, tuple[Result, str]] = field(default_factory=dict)
    measured: dict[str, str] = field(default_factory=dict)
    photos: list[Path] = field(default_factory=list)


Ask = Callable[[Connector, Sequence[CheckPoint]], Given]
"""Asks a person about points; gives the answers."""


def inspect_chosen(chosen: Chosen, findings: Findings, told: Told) -> int:
    """Record the inspections of the chosen connectors; 1 if any fails.

    Raises:
        UsageError: a point, measurement or photo that is not understood, or points without a
            result where nobody can be asked.
        RefusedStep: a connector's state does not allow it; nothing is recorded then.
    """
    day = typed_day(told.on)
    with open_register(register_path(told.register)) as book:
        person = who_decides(told.who, read_settings(book))
        connectors = chosen.of(book, Kind.INSPECTED)
        sheets = typed_sheets(findings, connectors)
        looked = _photos(book, connectors, sheets)
        ask = None if findings.rest_passes else _asker()
        inspections = [
            (c, _inspection(c, sheets[c.uid], findings, looked.get(c.uid), ask)) for c in connectors
        ]
        with book.writing():
            for pictures in looked.values():
                pictures.keep(book, at=now())
            events = record_inspections(
                book, inspections, who=person, at=now(), on=day, retire_because=findings.retire
            )
        _show(book, events, as_json=told.as_json)
    return int(any(i.result is Result.FAIL for _, i in inspections))


def typed_sheets(findings: Findings, connectors: Sequence[Connector]) -> dict[str, Sheet]:
    """What was typed, for each connector by its key; what names one connector wins.

    Raises:
        UsageError: an unknown point, one named twice with different results, or an id that is
            not among those inspected.
    """
    by_id = {same_case(c.id): c.uid for c in connectors}
    sheets = {c.uid: Sheet() for c in connectors}
    for result, texts in (
        (Result.NOT_APPLICABLE, findings.without),
        (Result.PASS, findings.passed),
        (Result.FAIL, findings.failed),
    ):
        for uids, point, note in _typed_points(texts, by_id):
            for uid in uids:
                _take(sheets[uid], point, result, note)
    for text in findings.measured:
        uids, rest = _whose(text, by_id)
        what, colon, value = (part.strip() for part in rest.partition(":"))
        if not colon or not what or not value:
            raise UsageError(
                f"'{text}' is no measurement", remedy="Write --measured 'groove: 0.8 mm'."
            )
        for uid in uids:
            sheets[uid].measured[what] = value
    for text in findings.photos:
        uids, rest = _whose(text, by_id)
        if len(uids) > 1:
            raise UsageError(
                f"which connector the photo {rest} shows is not said",
                remedy="Write --photo ID=PHOTO.",
            )
        sheets[uids[0]].photos.append(Path(rest))
    return sheets


def _typed_points(
    texts: Sequence[str], by_id: Mapping[str, str]
) -> Iterator[tuple[Sequence[str], CheckPoint, str]]:
    """Findings for all first, so that those for one connector come after and win."""
    split = [(*_whose(text, by_id), text) for text in texts]
    for uids, rest, _ in sorted(split, key=lambda item: len(item[0]) == 1):
        word, _, note = rest.partition(":")
        yield uids, find_point(word), note.strip()


def _take(sheet: Sheet, point: CheckPoint, result: Result, note: str) -> None:
    """A point that fails is never talked away by the same command."""
    sheet.points[point.key] = (result, note)


def _whose(text: str, by_id: Mapping[str, str]) -> tuple[Sequence[str], str]:
    """Keys of the connectors a finding is about, and the rest of it."""
    head, sign, rest = text.partition("=")
    if not sign or ":" in head:
        return tuple(by_id.values()), text.strip()
    if same_case(head.strip()) not in by_id:
        raise UsageError(
            f"{head.strip()} is not among the connectors inspected",
            remedy="Name it among the ids, or give its kit with --place.",
        )
    return (by_id[same_case(head.strip())],), rest.strip()


def _photos(
    book: Register, connectors: Sequence[Connector], sheets: Mapping[str, Sheet]
) -> dict[str, Looked]:
    photos = [(c, sheets[c.uid].photos) for c in connectors if sheets[c.uid].photos]
    if not photos:
        return {}
    from stampreader.cli.inspecting_photos import look_at

    return look_at(book, photos)


def _inspection(
    connector: Connector, sheet: Sheet, findings: Findings, looked: Looked | None, ask: Ask | None
) -> Inspection:
    given: dict[str, tuple[Result, str]] = {
        key: (Result.NOT_APPLICABLE, "") for key in not_applicable(connector.shape, connector.gate)
    }
    given |= looked.findings if looked else {}
    given |= sheet.points
    missing = [point for point in POINTS if point.key not in given]
    if findings.rest_passes:
        _refuse_doubt(connector, given, looked)
        given |= {point.key: (Result.PASS, "") for point in missing}
    elif missing:
        if ask is not None and looked is not None and looked.in_doubt:
            typer.echo(f"  {looked.in_doubt}")
        given |= _asked(connector, missing, ask)
    return Inspection(
        points=[Point(point.text, *given[point.key]) for point in POINTS],
        measured=sheet.measured,
        note=findings.note,
        occasion=findings.occasion,
        seen=looked.seen if looked else (),
        verdicts=looked.verdicts if looked else (),
    )


def _refuse_doubt(connector: Connector, given: Given, looked: Looked | None) -> None:
    """What a photo leaves in doubt is not passed unseen with the rest."""
    if looked is not None and looked.in_doubt and "marks" not in given:
        raise UsageError(
            f"{connector.id}: {looked.in_doubt}",
            remedy="Look at the stamp itself, then say --pass marks or --fail marks.",
        )


def _asked(connector: Connector, missing: Sequence[CheckPoint], ask: Ask | None) -> Given:
    if ask is None:
        keys = ", ".join(point.key for point in missing)
        raise UsageError(
            f"{connector.id}: {len(missing)} points have no result ({keys})",
            remedy="Name them with --pass, --fail or --without, or give --rest-passes.",
        )
    return ask(connector, missing)


def _asker() -> Ask | None:
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        return None
    from stampreader.cli.inspecting_ask import ask_points

    return ask_points


def _show(book: Register, events: Sequence[Event], *, as_json: bool) -> None:
    after = present_state(book, events)
    intervals = read_intervals(book)
    found = {str(e.connector): e for e in events if e.kind is Kind.INSPECTED}
    if as_json:
        for row in step_json(after, events, intervals):
            emit_json([{**row, **_points_json(events, row["event"])}])
        return
    for connector in after:
        body = found[connector.uid].body
        due_on = next_due(connector, intervals)
        due = f", next by {due_on.isoformat()}" if due_on and body["result"] == "pass" else ""
        reason = f" ({body['reason']})" if body.get("reason") else ""
        typer.echo(f"{connector.id}  {body['result']}{reason}; {LIFE_WORDS[connector.life]}{due}")
    for line in remark_lines(after):
        typer.echo(line)


def _points_json(events: Sequence[Event], id: str) -> dict[str, Any]:
    body = next(event.body for event in events if event.id == id)
    return {name: body[name] for name in ("points", "measured") if name in body} | (
        {"photos": [{k: r[k] for k in ("photo", "verdict")} for r in body["read"]]}
        if "read" in body
        else {}
    )


def show_points(ids: Sequence[str], register: Path | None, *, as_json: bool) -> int:
    """The check list, and for named connectors which of its points they do not have."""
    if not ids:
        _list_points(POINTS, frozenset(), as_json=as_json)
        return 0
    with open_register(register_path(register), read_only=True) as book:
        for id in ids:
            connector = find_connector(book, id)
            if not as_json:
                typer.echo(connector.id)
            without = not_applicable(connector.shape, connector.gate)
            _list_points(POINTS, without, as_json=as_json, id=connector.id)
    return 0


def _list_points(
    points: Sequence[CheckPoint], without: frozenset[str], *, as_json: bool, **more: str
) -> None:
    for point in points:
        applies = point.key not in without
        if as_json:
            emit_json([{**more, "point": point.key, "text": point.text, "words": point.words,
                        "applies": applies}])  # fmt: skip
        else:
            mark = "" if applies else "  (does not apply)"
            typer.echo(f"  {point.key:<10} {point.text:<28} {point.words}{mark}")

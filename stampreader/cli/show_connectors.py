"""Connectors on the screen: a list as a table, one connector with everything known of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from stampreader.cli.fitness import remarks_of
from stampreader.register import LIFE_WORDS, Connector, Event, Kind, as_row
from stampreader.words import SLOTS

INDENT = "  "
LIST_COLUMNS = (
    *("id", "state", "figures", "maker", "model", "serial", "marks", "place", "delivery"),
    "remarks",
)


def list_lines(connectors: Sequence[Connector]) -> Iterator[str]:
    """Connectors as a table, one a line; empty columns are left out."""
    rows = [_list_row(connector) for connector in connectors]
    shown = [name for name in LIST_COLUMNS if any(row[name] for row in rows)]
    widths = {name: max(len(name), *(len(row[name]) for row in rows)) for name in shown}
    yield INDENT.join(name.ljust(widths[name]) for name in shown).rstrip()
    for row in rows:
        yield INDENT.join(row[name].ljust(widths[name]) for name in shown).rstrip()


def _list_row(connector: Connector) -> dict[str, str]:
    return {
        "id": connector.id + (" (!)" if connector.conflicts else ""),
        "state": str(connector.life),
        "figures": figures_of(connector),
        "maker": connector.maker,
        "model": connector.model,
        "serial": connector.serial,
        "marks": ", ".join(connector.marks),
        "place": connector.place,
        "delivery": connector.delivery,
        "remarks": "; ".join(remarks_of(connector)),
    }


def list_row(connector: Connector) -> dict[str, Any]:
    """A connector as a row for JSON or a spreadsheet, with what is to be told of it."""
    return {**as_row(connector), "remarks": list(remarks_of(connector))}


def figures_of(connector: Connector) -> str:
    """The three figures as `27/8/7`, `?` where one is unknown."""
    values = (connector.kN(slot) for slot in SLOTS)
    return "/".join("?" if value is None else str(value) for value in values)


def connector_lines(connector: Connector, history: Sequence[Event]) -> Iterator[str]:
    """Everything known of one connector."""
    yield f"{connector.id}  {LIFE_WORDS[connector.life]}" + (
        f": {connector.life_reason}" if connector.life_reason else ""
    )
    for remark in remarks_of(connector):
        yield f"{INDENT}! {remark}"
    for conflict in connector.conflicts:
        yield f"{INDENT}! to be settled: {conflict}"
    yield from _figure_lines(connector, history)
    for name in (
        *("maker", "model", "serial", "batch", "made_on", "shape", "material", "gate"),
        *("delivery", "place", "registered_on", "in_service_on", "inspected_on", "note"),
    ):
        if getattr(connector, name):
            yield f"{INDENT}{name.replace('_', ' '):<13} {getattr(connector, name)}"
    yield f"{INDENT}{'marks':<13} {', '.join(connector.marks) or 'none'}"
    yield f"{INDENT}{'photos':<13} {len(connector.photos)}"
    yield "history"
    for event in history:
        yield f"{INDENT}{event.happened_on}  {event.kind:<14} {event.who}{_told(event)}"


def _figure_lines(connector: Connector, history: Sequence[Event]) -> Iterator[str]:
    raw = raw_figures(history)
    for slot in SLOTS:
        value = connector.kN(slot)
        shown = "unknown" if value is None else f"{value} kN"
        seen = ", ".join(dict.fromkeys(raw[slot.value]))
        yield f"{INDENT}{slot.value:<13} {shown:<10}" + (f" read: {seen}" if seen else "")


def raw_figures(history: Sequence[Event]) -> dict[str, list[str]]:
    """What the readers had read of each figure, as `27 (sure)`, photo by photo."""
    found: dict[str, list[str]] = {slot.value: [] for slot in SLOTS}
    for event in history:
        for read in event.body.get("read", ()):
            for slot, figure in read["raw"]["figures"].items():
                if figure["kN"] is not None:
                    found[slot].append(f"{figure['kN']} ({figure['state']})")
    return found


def _told(event: Event) -> str:
    """What an event's body adds, in a few words."""
    body = event.body
    if event.kind is Kind.CORRECTED:
        changes = (
            f"{name} {_said(body['before'].get(name))} → {_said(value)}"
            for name, value in body["fields"].items()
        )
        return f"  {'; '.join(changes)}  ({body['why']})"
    told = [
        str(body[name]) for name in ("result", "place", "reason", "reference") if body.get(name)
    ]
    if body.get("competent_person"):
        told.insert(0, f"by {body['competent_person']}")
    told += [f"{what} {value}" for what, value in body.get("measured", {}).items()]
    told += [f"photo {read['verdict']}" for read in body.get("read", ()) if "verdict" in read]
    return f"  {'; '.join(told)}" if told else ""


def _said(value: Any) -> str:
    if isinstance(value, list):
        return ", ".join(map(str, value)) or "none"
    return "none" if value in (None, "") else str(value)


def connector_json(connector: Connector, history: Sequence[Event]) -> dict[str, Any]:
    """One connector with its photos and history, as a JSON object."""
    return {
        **list_row(connector),
        "photos": [
            {"sha256": photo, "stamp": stamp, "crop": crop or None}
            for photo, stamp, crop in connector.photos
        ],
        "history": [event_json(event) for event in history],
    }


def event_json(event: Event) -> dict[str, Any]:
    """One event as a JSON object."""
    return {"event": event.id, **event.content(), "hash": event.hash}

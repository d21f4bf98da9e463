"""Connectors as rows for a table, for JSON and for spreadsheets."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any, TextIO

from stampreader.register.deriving import Connector

COLUMNS = (
    *("id", "state", "state_reason", "maker", "model", "serial", "batch", "made_on", "shape"),
    *("material", "gate", "closed_kN", "cross_kN", "open_kN", "marks", "delivery", "place"),
    *("registered_on", "in_service_on", "inspected_on", "retired_on", "by_hand", "note"),
    *("conflicts", "uid"),
)
"""Columns of a row, in order."""

_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "＝", "＋", "－", "＠")


def as_row(connector: Connector) -> dict[str, Any]:
    """The connector as a flat table of plain values; unknown figures and days are `None`."""
    named = {
        "state": str(connector.life),
        "state_reason": connector.life_reason or None,
        "marks": list(connector.marks),
        "conflicts": list(connector.conflicts),
    }
    return {
        name: named[name] if name in named else _plain(getattr(connector, name)) for name in COLUMNS
    }


def _plain(value: Any) -> Any:
    return None if value == "" else value


def safe_cell(value: Any) -> str:
    """A cell that no spreadsheet program takes for a formula.

    Text that begins like a formula gets an apostrophe in front, which spreadsheets read as "this
    is text" (the defence OWASP describes against CSV injection).

    Example:
        >>> safe_cell("=1+1")
        "'=1+1"
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | Decimal):
        return str(value)
    if isinstance(value, list | tuple):
        value = ", ".join(str(item) for item in value)
    text = str(value)
    return f"'{text}" if text.lstrip(" \u00a0").startswith(_FORMULA) else text


def write_csv(
    stream: TextIO, rows: Iterable[Mapping[str, Any]], columns: Sequence[str] = COLUMNS
) -> None:
    """Write rows as CSV (RFC 4180) with a header line, every cell safe."""
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(columns)
    for row in rows:
        writer.writerow([safe_cell(row.get(name)) for name in columns])

"""The present state of connectors as rows, kept beside the events for speed.

Always worked out from the events in the same transaction; `check` compares the two.
"""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Mapping
from decimal import ROUND_FLOOR, Decimal
from typing import Any

from stampreader.register.deriving import Connector
from stampreader.register.steps import Life

_YEAR = re.compile(r":\d{4}")
_TAIL = re.compile(r"(\d{1,18})$")

COLUMNS = (
    *("uid", "id", "prefix", "running", "life", "life_reason", "maker", "model", "serial"),
    *("batch", "made_on", "shape", "material", "gate", "delivery", "note"),
    *("closed_kN", "cross_kN", "open_kN", "closed_N", "marks", "place", "by_hand"),
    *("registered_on", "in_service_on", "inspected_on", "retired_on", "due_from_on"),
    *("conflicts", "latest"),
)

_INSERT = (
    f"INSERT INTO connectors ({', '.join(COLUMNS)}) VALUES ({', '.join('?' * len(COLUMNS))})"
    " ON CONFLICT (uid) DO UPDATE SET "
    + ", ".join(f"{name} = excluded.{name}" for name in COLUMNS if name != "uid")
)


def split_id(text: str) -> tuple[str, int]:
    """A readable id as prefix and running number, so that `C-2` comes before `C-10`.

    Example:
        >>> split_id("C-0012")
        ('C-', 12)
        >>> split_id("HUT")
        ('HUT', 0)
    """
    tail = _TAIL.search(text)
    return (text[: tail.start()], int(tail[1])) if tail else (text, 0)


def in_newton(kN: Decimal | None) -> int | None:
    """A strength in whole newtons, rounded down, for comparing in the database."""
    if kN is None:
        return None
    return int((kN * 1000).to_integral_value(rounding=ROUND_FLOOR))


def row_of(connector: Connector) -> dict[str, Any]:
    """The connector as columns of table `connectors`."""
    prefix, running = split_id(connector.id)
    derived = {
        "prefix": prefix,
        "running": running,
        "life": str(connector.life),
        "closed_kN": _text(connector.closed_kN),
        "cross_kN": _text(connector.cross_kN),
        "open_kN": _text(connector.open_kN),
        "closed_N": in_newton(connector.closed_kN),
        "marks": json.dumps(connector.marks, ensure_ascii=False),
        "by_hand": int(connector.by_hand),
        "conflicts": json.dumps(connector.conflicts, ensure_ascii=False),
    }
    return {
        name: derived[name] if name in derived else getattr(connector, name) for name in COLUMNS
    }


def _text(kN: Decimal | None) -> str | None:
    return None if kN is None else str(kN)


def connector_of(
    row: Mapping[str, Any], photos: tuple[tuple[str, int, str], ...] = ()
) -> Connector:
    """A connector from a row of table `connectors`."""
    values = {k: v for k, v in row.items() if k not in ("prefix", "running", "closed_N")}
    for name in ("closed_kN", "cross_kN", "open_kN"):
        values[name] = None if values[name] is None else Decimal(values[name])
    values["life"] = Life(values["life"])
    values["marks"] = tuple(json.loads(values["marks"]))
    values["conflicts"] = tuple(json.loads(values["conflicts"]))
    values["by_hand"] = bool(values["by_hand"])
    return Connector(**values, photos=photos)


def searched_marks(marks: tuple[str, ...]) -> tuple[str, ...]:
    """Marks under which a connector is found: as stamped, and without the year.

    Example:
        >>> searched_marks(("EN 362:2004/B",))
        ('EN 362:2004/B', 'EN 362/B')
    """
    return tuple(dict.fromkeys(form for mark in marks for form in (mark, _YEAR.sub("", mark))))


def project(conn: sqlite3.Connection, connector: Connector) -> None:
    """Write the connector's row, its marks and its photos."""
    row = row_of(connector)
    conn.execute(_INSERT, [row[name] for name in COLUMNS])
    conn.execute("DELETE FROM connector_marks WHERE uid = ?", [connector.uid])
    conn.executemany(
        "INSERT OR IGNORE INTO connector_marks (mark, uid) VALUES (?, ?)",
        [(mark, connector.uid) for mark in searched_marks(connector.marks)],
    )
    conn.executemany(
        "INSERT OR IGNORE INTO connector_photos (photo, stamp, uid, crop) VALUES (?, ?, ?, ?)",
        [(photo, stamp, connector.uid, crop) for photo, stamp, crop in connector.photos],
    )

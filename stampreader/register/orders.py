"""What was ordered for a delivery, kept in the history so that a later sitting compares with it."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from stampreader.register.events import Event, Kind
from stampreader.register.store import Register


def keep_order(
    register: Register,
    delivery: str,
    lines: Sequence[Mapping[str, Any]],
    *,
    who: str,
    at: datetime,
) -> Event | None:
    """Keep what was ordered for a delivery; `None` if the very same is kept already."""
    with register.writing():
        if list(lines) == order_of(register, delivery):
            return None
        body = {"delivery": delivery, "lines": [dict(line) for line in lines]}
        return register.record(Kind.ORDERED, None, body, who=who, at=at)


def order_of(register: Register, delivery: str) -> list[dict[str, Any]]:
    """The lines last kept for a delivery; empty if none."""
    rows = register.rows(
        "SELECT body FROM events WHERE kind = ? ORDER BY turn DESC, station, number DESC",
        [Kind.ORDERED],
    )
    for row in rows:
        body = json.loads(row["body"])
        if body["delivery"] == delivery:
            return list(body["lines"])
    return []

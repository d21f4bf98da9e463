"""How far the confirming of deliveries has come, and whether the register has changed."""

from __future__ import annotations

from dataclasses import dataclass

from stampreader.register.store import Register


@dataclass(frozen=True, slots=True)
class Progress:
    """One delivery: how many of its arrivals wait, and how many were decided."""

    delivery: str
    waiting: int
    decided: int


def deliveries_in_progress(register: Register) -> list[Progress]:
    """Deliveries of which something waits, in the order they came."""
    rows = register.rows(
        "SELECT delivery, sum(status = 'waiting') AS waiting, sum(status != 'waiting') AS decided"
        " FROM arrivals WHERE delivery IN (SELECT delivery FROM arrivals WHERE status = 'waiting')"
        " GROUP BY delivery ORDER BY min(arrival)"
    )
    return [Progress(str(r["delivery"]), int(r["waiting"]), int(r["decided"])) for r in rows]


def progress_of(register: Register, delivery: str) -> Progress:
    """How far one delivery has come; nothing of it if it is not known."""
    row = register.rows(
        "SELECT coalesce(sum(status = 'waiting'), 0) AS waiting,"
        " coalesce(sum(status != 'waiting'), 0) AS decided FROM arrivals WHERE delivery = ?",
        [delivery],
    )[0]
    return Progress(delivery, int(row["waiting"]), int(row["decided"]))


def change_count(register: Register) -> tuple[int, int]:
    """A pair that differs after every change, by this connection or by another process."""
    seen = register.rows("PRAGMA data_version")[0]
    return int(seen["data_version"]), int(register.db.conn.total_changes)

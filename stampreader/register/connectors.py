"""Finding and listing connectors, and the ids for new ones."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from stampreader.errors import RegisterError, UnknownConnector, UsageError
from stampreader.register.deriving import Connector
from stampreader.register.projection import connector_of, in_newton, row_of
from stampreader.register.steps import Life
from stampreader.register.store import Register

SORTS = {
    "id": "prefix, running, id",
    "maker": "maker, model, prefix, running",
    "model": "model, prefix, running",
    "delivery": "delivery, prefix, running",
    "batch": "batch, prefix, running",
    "serial": "serial, prefix, running",
    "made": "made_on, prefix, running",
    "place": "place, life, prefix, running",
    "state": "life, prefix, running",
    "closed": "closed_N, prefix, running",
    "due": "due_from_on, prefix, running",
}
"""Orders a list may have, by name."""


@dataclass(frozen=True, slots=True)
class Filter:
    """Which connectors to list; an empty field does not limit. Text is compared without case.

    Attributes:
        life: states of life; withdrawn entries are left out unless named here.
        maker, model, serial, batch, delivery, place, shape, gate: exact text of the field.
        mark: a standard mark in normal form.
        least_closed_kN: closed strength at least this.
        in_conflict: only those where stations that worked apart disagree.
    """

    life: tuple[Life, ...] = ()
    maker: str = ""
    model: str = ""
    serial: str = ""
    batch: str = ""
    delivery: str = ""
    place: str = ""
    shape: str = ""
    gate: str = ""
    mark: str = ""
    least_closed_kN: Decimal | None = None
    in_conflict: bool = False


ANY = Filter()

_TEXTS = ("maker", "model", "serial", "batch", "delivery", "place", "shape", "gate")


def find_connector(register: Register, id: str) -> Connector:
    """The connector with this readable id (or key), with its photos.

    Raises:
        UnknownConnector: no connector has it.
        RegisterError: two connectors carry it, after stations that worked apart were merged.
    """
    rows = register.rows(
        "SELECT * FROM connectors WHERE id = ? OR uid = ? ORDER BY life = 'withdrawn', latest DESC",
        [id, id],
    )
    if not rows:
        raise UnknownConnector(f"no connector {id} in the register")
    live = [row for row in rows if row["life"] != Life.WITHDRAWN]
    if len(live) > 1:
        keys = " and ".join(str(row["uid"]) for row in live)
        raise RegisterError(
            f"{len(live)} connectors carry the id {id}: {keys}",
            remedy="Give one of them another id: `stampreader correct KEY --id NEW`.",
        )
    row = (live or rows)[0]
    photos = register.rows(
        "SELECT photo, stamp, crop FROM connector_photos WHERE uid = ? ORDER BY photo, stamp",
        [row["uid"]],
    )
    return connector_of(row, tuple((p["photo"], p["stamp"], p["crop"]) for p in photos))


def stamped_alike(register: Register, connector: Connector) -> list[str]:
    """Ids of other connectors that a photo of the stamp could not tell from this one."""
    row = row_of(connector)
    alike = register.rows(
        "SELECT id, marks FROM connectors WHERE closed_N = ? AND cross_kN IS ? AND open_kN IS ?"
        " AND serial = ? AND uid != ? AND life != 'withdrawn' ORDER BY prefix, running, id",
        [row[name] for name in ("closed_N", "cross_kN", "open_kN", "serial", "uid")],
    )
    marks = set(connector.marks)
    return [str(other["id"]) for other in alike if set(json.loads(other["marks"])) == marks]


def id_is_taken(register: Register, id: str) -> bool:
    """Whether a connector that was not withdrawn carries this id."""
    return bool(
        register.rows(
            "SELECT 1 FROM connectors WHERE id = ? AND life != ? LIMIT 1", [id, Life.WITHDRAWN]
        )
    )


def list_connectors(
    register: Register,
    which: Filter = ANY,
    *,
    sort: str = "id",
    backwards: bool = False,
    limit: int = 0,
) -> list[Connector]:
    """Connectors that pass the filter, in order.

    Args:
        register: the register.
        which: the filter.
        sort: one of `SORTS`.
        backwards: in reverse order.
        limit: at most so many; 0 for all.

    Raises:
        UsageError: unknown order.
    """
    sql, values = listing_sql(which, sort=sort, backwards=backwards, limit=limit)
    return [connector_of(row) for row in register.rows(sql, values)]


def count_connectors(register: Register, which: Filter = ANY) -> int:
    """How many connectors pass the filter."""
    where, values = _where(which)
    return int(register.rows(f"SELECT count(*) AS n FROM connectors WHERE {where}", values)[0]["n"])


def listing_sql(
    which: Filter, *, sort: str = "id", backwards: bool = False, limit: int = 0
) -> tuple[str, list[Any]]:
    """The question behind a list: SQL with its values."""
    if sort not in SORTS:
        raise UsageError(f"cannot sort by {sort}", remedy=f"Sort by {', '.join(SORTS)}.")
    where, values = _where(which)
    order = SORTS[sort]
    if backwards:
        order = ", ".join(f"{column} DESC" for column in order.split(", "))
    sql = f"SELECT * FROM connectors WHERE {where} ORDER BY {order}"
    if limit:
        sql += " LIMIT ?"
        values.append(limit)
    return sql, values


def _where(which: Filter) -> tuple[str, list[Any]]:
    clauses: list[str] = []
    values: list[Any] = []
    if which.life:
        clauses.append(f"life IN ({', '.join('?' * len(which.life))})")
        values.extend(str(life) for life in which.life)
    else:
        clauses.append("+life != ?")  # the plus keeps SQLite from choosing the index of states
        values.append(str(Life.WITHDRAWN))
    for name in _TEXTS:
        text = getattr(which, name)
        if text:
            clauses.append(f"{name} = ?")
            values.append(text)
    if which.mark:
        clauses.append("uid IN (SELECT uid FROM connector_marks WHERE mark = ?)")
        values.append(which.mark)
    if which.least_closed_kN is not None:
        clauses.append("closed_N >= ?")
        values.append(in_newton(which.least_closed_kN))
    if which.in_conflict:
        clauses.append("conflicts != '[]'")
    return " AND ".join(clauses), values


def new_ids(register: Register, prefix: str) -> Iterator[str]:
    """Readable ids not used yet, in rising order: `C-0001`, `C-0002`, …"""
    row = register.rows(
        "SELECT max(running) AS last FROM connectors WHERE prefix = ? AND life != ?",
        [prefix, Life.WITHDRAWN],
    )[0]
    number = int(row["last"] or 0)
    while True:
        number += 1
        candidate = f"{prefix}{number:04d}"
        if not id_is_taken(register, candidate):
            yield candidate

"""Everything in a register that a person must settle after stations worked apart."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from stampreader.errors import RefusedStep
from stampreader.register.deriving import Connector
from stampreader.register.events import Event, Kind
from stampreader.register.life import clean_note, take_step
from stampreader.register.store import Register


@dataclass(frozen=True, slots=True)
class Conflict:
    """One thing to settle.

    Attributes:
        ids: readable ids of the connectors it is about.
        uids: their keys.
        text: what is wrong, in words.
        remedy: what to do.
    """

    ids: tuple[str, ...]
    uids: tuple[str, ...]
    text: str
    remedy: str


def list_conflicts(register: Register) -> tuple[Conflict, ...]:
    """All open conflicts, the same in every register that holds the same events."""
    return (*_disagreements(register), *_shared_ids(register), *_twins(register))


def _disagreements(register: Register) -> list[Conflict]:
    """Events of one connector that were recorded against each other."""
    rows = register.rows(
        "SELECT uid, id, conflicts FROM connectors WHERE conflicts != '[]' ORDER BY id, uid"
    )
    return [
        Conflict(
            (row["id"],), (row["uid"],), text,
            f"Look at it; `stampreader correct {row['id']}` if need be, then `settle {row['id']}`.",
        )
        for row in rows
        for text in json.loads(row["conflicts"])
    ]  # fmt: skip


def _shared_ids(register: Register) -> list[Conflict]:
    """One readable id on several connectors: both stations gave it."""
    rows = register.rows(
        "SELECT min(id) AS id, group_concat(uid, ' ') AS uids FROM"
        " (SELECT id, uid FROM connectors WHERE life != 'withdrawn' ORDER BY id, uid)"
        " GROUP BY id COLLATE NOCASE HAVING count(*) > 1 ORDER BY 1"
    )
    found = []
    for row in rows:
        uids = tuple(sorted(row["uids"].split()))
        found.append(
            Conflict(
                (row["id"],) * len(uids), uids,
                f"{len(uids)} connectors carry the id {row['id']}: {' and '.join(uids)}",
                f"Give one another id and a new label: `stampreader correct {uids[-1]} --id NEW`.",
            )
        )  # fmt: skip
    return found


def _twins(register: Register) -> list[Conflict]:
    """One connector entered at two stations: the same stamp on the same photo, or one serial."""
    by_photo = register.rows(
        "SELECT DISTINCT a.uid AS one, b.uid AS other FROM connector_photos a"
        " JOIN connector_photos b ON b.photo = a.photo AND b.stamp = a.stamp AND b.uid > a.uid"
    )
    by_serial = register.rows(
        "SELECT a.uid AS one, b.uid AS other FROM connectors a JOIN connectors b"
        " ON b.serial = a.serial AND b.maker = a.maker AND b.model = a.model AND b.uid > a.uid"
        " WHERE a.serial != '' AND a.maker != ''"
    )
    pairs = {(row["one"], row["other"]): "the same stamp on the same photo" for row in by_photo}
    for row in by_serial:
        pairs.setdefault((row["one"], row["other"]), "maker, model and serial")
    found = (_twin(register, one, other, why) for (one, other), why in sorted(pairs.items()))
    return [conflict for conflict in found if conflict is not None]


def _twin(register: Register, one: str, other: str, why: str) -> Conflict | None:
    if one.rpartition("-")[0] == other.rpartition("-")[0]:
        return None
    rows = register.rows(
        "SELECT id, life FROM connectors WHERE uid IN (?, ?) ORDER BY uid", [one, other]
    )
    if any(row["life"] in ("withdrawn", "retired") for row in rows):
        return None
    ids = tuple(str(row["id"]) for row in rows)
    return Conflict(
        ids, (one, other),
        f"{ids[0]} ({one}) and {ids[1]} ({other}) seem to be one connector entered twice: {why}",
        "If it is one, retire the entry that is not on its label, with that reason.",
    )  # fmt: skip


def settle(
    register: Register, connectors: Sequence[Connector], why: str, *, who: str, at: datetime
) -> list[Event]:
    """A person has looked at what stations recorded against each other; the entry holds as it is.

    Raises:
        RefusedStep: one of them has nothing to settle.
        UsageError: no reason.
    """
    body = {"reason": clean_note(why, "the reason")}
    for connector in connectors:
        if not connector.conflicts:
            raise RefusedStep(
                f"{connector.id} has nothing to settle",
                remedy="See `stampreader conflicts`; an id given twice is corrected, not settled.",
            )
    return take_step(register, connectors, Kind.SETTLED, body, who=who, at=at)

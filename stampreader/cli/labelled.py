"""Which ids go onto labels and photo sheets: given, of a delivery, or not used yet."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import islice
from pathlib import Path

from stampreader.cli.common import register_path, say
from stampreader.errors import UsageError
from stampreader.register import (
    ID_PATTERN,
    Filter,
    Register,
    Settings,
    find_connector,
    id_is_taken,
    list_connectors,
    new_ids,
    open_register,
    read_settings,
)

MOST_NEW = 5000
Labelled = tuple[str, tuple[str, ...]]
"""An id, and the small lines that go below it."""


def chosen(
    given: Path | None, ids: Sequence[str], *, delivery: str, new: int, start: str
) -> list[Labelled]:
    """Ids to print, each once, in the order asked for, with maker, model and serial.

    Raises:
        UsageError: nothing chosen, or an id that cannot be one.
        UnknownConnector: an id that is not in the register.
    """
    if not ids and not delivery and not new:
        raise UsageError(
            "no connector is chosen", remedy="Give ids, --delivery NAME, or --new N for new ids."
        )
    if new > MOST_NEW:
        raise UsageError(f"{new} new ids are too many", remedy=f"Give at most {MOST_NEW}.")
    path = register_path(given)
    found: dict[str, tuple[str, ...]] = {}
    if ids or delivery or path.exists():
        with open_register(path, read_only=True) as register:
            for id in ids:
                connector = find_connector(register, id)
                found[connector.id] = _lines(connector.maker, connector.model, connector.serial)
            for connector in (
                list_connectors(register, Filter(delivery=delivery)) if delivery else []
            ):
                found[connector.id] = _lines(connector.maker, connector.model, connector.serial)
            found |= dict.fromkeys(_new(register, new, start), ())
    else:
        found |= dict.fromkeys(_fresh(Settings().id_prefix, new, start), ())
    if new:
        say("New ids are not kept back: they are taken when their connectors are entered.")
    if not found:
        raise UsageError(f"delivery {delivery} has no connector in the register", remedy="")
    return list(found.items())


def _lines(maker: str, model: str, serial: str) -> tuple[str, ...]:
    return tuple(filter(None, (" ".join(filter(None, (maker, model))), serial)))


def _new(register: Register, count: int, start: str) -> list[str]:
    if not start:
        return list(islice(new_ids(register, read_settings(register).id_prefix), count))
    free: list[str] = []
    candidate = start
    while len(free) < count:
        _check_id(candidate)
        if not id_is_taken(register, candidate):
            free.append(candidate)
        candidate = following(candidate)
    return free


def _fresh(prefix: str, count: int, start: str) -> list[str]:
    """New ids where there is no register yet."""
    ids = [start or f"{prefix}0001"]
    while len(ids) < count:
        ids.append(following(ids[-1]))
    for id in ids:
        _check_id(id)
    return ids[:count]


def _check_id(id: str) -> None:
    if not ID_PATTERN.fullmatch(id):
        raise UsageError(
            f"'{id}' cannot be an id",
            remedy="Use up to 40 letters, digits, '.', '_', '/' or '-'.",
        )


def following(id: str) -> str:
    """The next id of a row: `C-0099` is followed by `C-0100`.

    Raises:
        UsageError: the id does not end in a number.
    """
    digits = len(id) - len(id.rstrip("0123456789"))
    if not digits:
        raise UsageError(f"the id {id} does not end in a number", remedy="Begin at C-0001 or so.")
    return f"{id[:-digits]}{int(id[-digits:]) + 1:0{digits}d}"

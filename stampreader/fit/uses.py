"""Rules: what a use asks of a connector, as data that a team may change."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from typing import Any

from stampreader.errors import StampError, UsageError
from stampreader.standards import is_third_party, read_claim
from stampreader.words import Slot

_KEYS = {
    "title": "a sentence",
    "because": "a sentence with its source",
    "gate": '"any", "locking" or "self-locking"',
    "shape": 'a list such as ["pear", "hms"]',
    "instead-of-shape": 'a list of marks such as ["EN 12275/H"]',
    "one-of": 'a list of marks such as ["NFPA T", "NFPA G"]',
    "all-of": 'a list of marks such as ["CE", "EN 362"]',
    "least": "a table such as { closed = 20 } in kN",
    "third-party": "true or false",
}


class Gate(StrEnum):
    """What a use asks of the gate."""

    ANY = "any"
    LOCKING = "locking"
    SELF_LOCKING = "self-locking"


class RulesError(StampError):
    """The team's rules cannot be understood."""

    kind = "rules"
    status = 2
    remedy = "Correct the file; `stampreader pick --rules` shows how the shipped rules look."


@dataclass(frozen=True, slots=True)
class Use:
    """What one use asks.

    Attributes:
        name: short name, such as `life-support`.
        title: what it is, in a few words.
        because: why it asks that, with its source.
        gate: what the gate must do.
        shapes: words of which one must stand in the shape; empty: any shape.
        instead_of_shape: marks that stand for the shape.
        one_of: marks of which one must be stamped.
        all_of: marks that must all be stamped.
        least: smallest figures in kN by direction.
        third_party: a mark is demanded that somebody other than the maker stands behind.
    """

    name: str
    title: str = ""
    because: str = ""
    gate: Gate = Gate.ANY
    shapes: tuple[str, ...] = ()
    instead_of_shape: tuple[str, ...] = ()
    one_of: tuple[str, ...] = ()
    all_of: tuple[str, ...] = ()
    least: Mapping[Slot, Decimal] = field(default_factory=dict)
    third_party: bool = False


def read_uses(text: str, where: str) -> dict[str, Use]:
    """Rules as written, by name.

    Args:
        text: TOML with one table a use.
        where: the file's name, for messages.

    Raises:
        RulesError: not TOML, an unknown word, or a value that is none.
    """
    try:
        tables = tomllib.loads(text, parse_float=Decimal)
    except (ValueError, RecursionError) as error:
        raise RulesError(f"{where}: {error}") from error
    return {name: _use(name, table, f"{where}, [{name}]") for name, table in tables.items()}


def merged(shipped: Mapping[str, Use], own: Mapping[str, Use]) -> dict[str, Use]:
    """The shipped rules with the team's own in place of those of the same name."""
    return {**shipped, **own}


def find_use(uses: Mapping[str, Use], name: str) -> Use:
    """The rule of a use.

    Raises:
        UsageError: there is none of this name.
    """
    wanted = "-".join(name.lower().split())
    if wanted not in uses:
        raise UsageError(f"there is no use '{name}'", remedy=f"Uses are {', '.join(uses)}.")
    return uses[wanted]


def _use(name: str, table: Any, where: str) -> Use:
    if name != "-".join(name.lower().split()) or ":" in name:
        raise RulesError(f"{where}: a name is small letters with '-' for blanks")
    if not isinstance(table, dict):
        raise RulesError(f"{where}: not a table of rules")
    unknown = sorted(set(table) - set(_KEYS))
    if unknown:
        raise RulesError(
            f"{where}: there is no rule '{unknown[0]}'", remedy=f"Rules are {', '.join(_KEYS)}."
        )
    marks = {key: _marks(table, key, where) for key in ("instead-of-shape", "one-of", "all-of")}
    return Use(
        name=name,
        title=_value(table, "title", str, where, name),
        because=_value(table, "because", str, where, ""),
        gate=_gate(table, where),
        shapes=tuple(word.lower() for word in _words(table, "shape", where)),
        instead_of_shape=marks["instead-of-shape"],
        one_of=marks["one-of"],
        all_of=marks["all-of"],
        least=_least(table, where),
        third_party=_value(table, "third-party", bool, where, False),
    )


def _value(table: Mapping[str, Any], key: str, kind: type, where: str, usual: Any) -> Any:
    value = table.get(key, usual)
    if not isinstance(value, kind):
        raise RulesError(f"{where}: '{key}' is {_KEYS[key]}")
    return value


def _words(table: Mapping[str, Any], key: str, where: str) -> tuple[str, ...]:
    words = _value(table, key, list, where, [])
    if not all(isinstance(word, str) and word.strip() for word in words):
        raise RulesError(f"{where}: '{key}' is {_KEYS[key]}")
    return tuple(" ".join(word.split()) for word in words)


def _marks(table: Mapping[str, Any], key: str, where: str) -> tuple[str, ...]:
    marks = _words(table, key, where)
    for mark in marks:
        if mark.upper() not in ("CE", "UKCA") and not is_third_party(mark) and not read_claim(mark):
            raise RulesError(f"{where}: '{mark}' is no mark known here")
    return marks


def _gate(table: Mapping[str, Any], where: str) -> Gate:
    try:
        return Gate(_value(table, "gate", str, where, Gate.ANY))
    except ValueError as error:
        raise RulesError(f"{where}: 'gate' is {_KEYS['gate']}") from error


def _least(table: Mapping[str, Any], where: str) -> dict[Slot, Decimal]:
    given = _value(table, "least", dict, where, {})
    least: dict[Slot, Decimal] = {}
    for name, value in given.items():
        try:
            least[Slot(name)] = _figure(value)
        except (ValueError, InvalidOperation) as error:
            raise RulesError(f"{where}: 'least' is {_KEYS['least']}") from error
    return least


def _figure(value: Any) -> Decimal:
    if isinstance(value, bool) or not isinstance(value, int | Decimal) or not 0 < value <= 200:
        raise ValueError(value)
    return Decimal(value)

"""Values out of a plan's tables, each with a message that names the line when it is wrong."""

from __future__ import annotations

import copy
import difflib
import math
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from enum import StrEnum
from typing import Any, NoReturn, TypeVar

from stampreader.errors import PlanError, UsageError
from stampreader.rig.lines import Path, line_index, line_of
from stampreader.units import PERSON_kN, parse_load, parse_strength, shortened

Choice = TypeVar("Choice", bound=StrEnum)

MOST_BYTES = 200_000
"""A longer file is no plan a person wrote."""
MOST_LETTERS = 4_000
"""Of a line: a key of thousands of parts would take seconds to read."""
MOST_LENGTH_m = 10_000.0
FOOT_m = 0.3048
"""International foot: exactly 0.3048 m (NIST Special Publication 811, appendix B)."""
_LENGTH_UNITS = {"m": 1.0, "ft": FOOT_m}


class Source:
    """The text of a plan: its tables, and the line of each key.

    Raises:
        PlanError: not TOML, or longer than a plan.
    """

    def __init__(self, text: str, name: str) -> None:
        self.name = name
        self.length_unit = "m"
        self.person_kN = PERSON_kN
        if len(text) > MOST_BYTES:
            raise PlanError(
                f"{name} is over {MOST_BYTES // 1000} kB, too long for a plan",
                remedy="Check that this is the right file.",
            )
        if max(map(len, text.splitlines()), default=0) > MOST_LETTERS:
            raise PlanError(
                f"{name} has a line of more than {MOST_LETTERS} letters, too long for a plan",
                remedy="Check that this is the right file.",
            )
        try:
            self.tables: dict[str, Any] = tomllib.loads(text)
        except ValueError as error:  # its grammar, or a number of thousands of digits
            raise PlanError(f"{name} is not written as TOML: {error}") from error
        except RecursionError as error:
            raise PlanError(f"{name} has brackets within brackets without end") from error
        self._lines = line_index(text)

    def with_value(self, path: Path, value: object) -> Source:
        """A copy with one value of the tables changed; the lines stay those of the file."""
        changed = copy.copy(self)
        changed.tables = copy.deepcopy(self.tables)
        inner: Any = changed.tables
        for key in path[:-1]:
            inner = inner[key]
        inner[path[-1]] = value
        return changed

    def line(self, path: Path) -> int:
        """The line of a key, or of the table around it."""
        return line_of(self._lines, path)

    def fail(self, path: Path, message: str, remedy: str) -> NoReturn:
        """Refuse the plan with a message that names the line of `path`."""
        raise plan_error(self.name, self.line(path), message, remedy)


def plan_error(source: str, line: int, message: str, remedy: str) -> PlanError:
    """A refusal that names the file and the line."""
    return PlanError(f"{source}, line {line}: {message}", remedy=remedy)


class Fields:
    """One table of a plan. Every getter marks its key as known; `finish` refuses the others."""

    def __init__(self, source: Source, path: Path, value: object) -> None:
        self.source = source
        self.path = path
        self._known: set[str] = set()
        if not isinstance(value, Mapping):
            source.fail(path, f"'{path[-1]}' must be a table", "Write it as [name] or { … }.")
        self.table: Mapping[str, Any] = value

    @property
    def line(self) -> int:
        """The line the table begins on."""
        return self.source.line(self.path)

    def fail(self, key: str | None, message: str, remedy: str) -> NoReturn:
        """Refuse the plan, naming the line of a key or of the table."""
        self.source.fail(self.path if key is None else (*self.path, key), message, remedy)

    def has(self, key: str) -> bool:
        """Whether the key is there; marks it as known."""
        self._known.add(key)
        return key in self.table

    def one_of(self, keys: Iterable[str]) -> str | None:
        """Which of some keys that exclude each other is there."""
        found = [key for key in keys if self.has(key)]
        if len(found) > 1:
            self.fail(found[1], f"'{found[0]}' and '{found[1]}' contradict", "Keep one of the two.")
        return found[0] if found else None

    def finish(self) -> None:
        """Refuse keys that nothing asked for, with the nearest known one."""
        for key in self.table:
            if key not in self._known:
                near = difflib.get_close_matches(key, self._known, 1)
                hint = f"Did you mean '{near[0]}'?" if near else f"Known here: {self._listed()}."
                self.fail(key, f"'{shortened(key)}' is not known here", hint)

    def _listed(self) -> str:
        return ", ".join(sorted(self._known)) or "nothing"

    def _need(self, key: str, example: str) -> Any:
        if not self.has(key):
            where = ".".join(map(str, self.path)) or "the plan"
            self.fail(None, f"{where} has no '{key}'", f"Add: {key} = {example}")
        return self.table[key]

    def text(self, key: str, example: str = '"…"') -> str:
        """A text that is not empty."""
        value = self._need(key, example)
        if not isinstance(value, str) or not value.strip():
            self.fail(key, f"'{key}' must be a text", f"Write: {key} = {example}")
        if any(ord(letter) < 32 for letter in value.strip()):
            self.fail(key, f"'{key}' must be one line of text", f"Write: {key} = {example}")
        return value.strip()

    def optional_text(self, key: str, default: str = "") -> str:
        """A text, or the default where the key is missing."""
        return self.text(key) if self.has(key) else default

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of texts; empty where the key is missing."""
        return tuple(
            item if isinstance(item, str) else self._bad_item(key, place)
            for place, item in enumerate(self.items(key))
        )

    def _bad_item(self, key: str, place: int) -> NoReturn:
        path = (*self.path, key, place)
        self.source.fail(path, f"item {place + 1} of '{key}' must be a text", "Put it in quotes.")

    def items(self, key: str) -> list[Any]:
        """A list; empty where the key is missing."""
        value = self.table.get(key, []) if self.has(key) else []
        if not isinstance(value, list):
            self.fail(key, f"'{key}' must be a list", f"Write: {key} = [ … ]")
        return value

    def choice(self, key: str, words: type[Choice], default: Choice | None) -> Choice | None:
        """One of a fixed set of words, or the default where the key is missing."""
        if not self.has(key):
            return default
        value = self.table[key]
        allowed = [str(word) for word in words]
        if not isinstance(value, str) or value not in allowed:
            listed = ", ".join(f"'{word}'" for word in allowed)
            self.fail(key, f"'{key}' cannot be {_shown(value)}", f"Choose one of {listed}.")
        return words(value)

    def flag(self, key: str) -> bool:
        """True or false; false where the key is missing."""
        value = self.table.get(key, False) if self.has(key) else False
        if not isinstance(value, bool):
            self.fail(key, f"'{key}' must be true or false", f"Write: {key} = true")
        return value

    def number(self, key: str, low: float, high: float, example: str) -> float:
        """A plain number within bounds, both included."""
        value = self._need(key, example)
        if isinstance(value, bool) or not isinstance(value, int | float) or not _finite(value):
            wanted = f"Write: {key} = {example}"
            self.fail(key, f"'{key}' must be a number, not {_shown(value)}", wanted)
        if not low <= value <= high:
            wanted = f"Give a number from {low:g} to {high:g}, such as {example}."
            self.fail(key, f"'{key}' cannot be {value:g}", wanted)
        return float(value)

    def length(self, key: str, example: str = "1.0", low_m: float = 0.001) -> float:
        """A length in metres: a number in the plan's unit, or a text such as `3 m`."""
        return self.metres(self._need(key, example), (*self.path, key), low_m)

    def metres(self, value: object, path: Path, low_m: float) -> float:
        """One length, from a number or a text with the unit of the plan."""
        unit = self.source.length_unit
        how = f"Write a number in {unit}, such as 2.5."
        if isinstance(value, str):
            number, _, said = value.strip().partition(" ")
            if said.strip() != unit:
                self.source.fail(path, f"'{shortened(value)}' is not a length in {unit}", how)
            value = _as_number(number)
        if isinstance(value, bool) or not isinstance(value, int | float) or not _finite(value):
            self.source.fail(path, f"{_shown(value)} is not a length", how)
        metres = float(value) * _LENGTH_UNITS[unit]
        if not low_m <= metres <= MOST_LENGTH_m:
            self.source.fail(path, f"a length of {value:g} {unit} cannot be used here", how)
        return metres

    def force(self, key: str) -> Decimal:
        """A force in kN from a text such as `2 kN`, `450 lbf`, `200 kg` or `2 people`."""
        value = self._need(key, '"2 kN"')
        if not isinstance(value, str):
            wanted = f'Write it as text with its unit: {key} = "2 kN"'
            self.fail(key, f"'{key}' has no unit", wanted)
        try:
            return parse_load(value, self.source.person_kN).kN
        except UsageError as error:
            self.fail(key, str(error), error.remedy)

    def strength(self, key: str) -> Decimal:
        """A strength in kN from a text such as `25 kN` or `9000 lbf`, or a number in kN."""
        value = self._need(key, '"25 kN"')
        if isinstance(value, bool) or not isinstance(value, int | float | str):
            self.fail(key, f"'{key}' is not a strength", f'Write: {key} = "25 kN"')
        try:
            return parse_strength(str(value)).kN
        except UsageError as error:
            self.fail(key, str(error), error.remedy)

    def tables(self, key: str) -> Iterator[tuple[str, Fields]]:
        """The named tables under a key, such as every `[point.NAME]`."""
        value = self.table.get(key, {}) if self.has(key) else {}
        if not isinstance(value, Mapping):
            self.fail(key, f"'{key}' must hold tables", f"Write: [{key}.name]")
        for name, inner in value.items():
            path = (*self.path, key, name)
            if not name.strip() or len(name) > 40 or any(ord(letter) < 32 for letter in name):
                self.source.fail(path, "a name must have 1 to 40 letters", "Choose a short name.")
            yield name, Fields(self.source, path, inner)

    def inner(self, key: str) -> Fields:
        """The table under a key that must be there."""
        return Fields(self.source, (*self.path, key), self._need(key, "{ … }"))

    def list_of_tables(self, key: str) -> Iterator[Fields]:
        """The tables of a list such as `held_by`."""
        for place, item in enumerate(self.items(key)):
            yield Fields(self.source, (*self.path, key, place), item)


def read_length_unit(fields: Fields) -> None:
    """Take the unit of lengths of the whole plan: metres, or feet where it says so."""
    unit = fields.optional_text("lengths", "m")
    if unit not in _LENGTH_UNITS:
        fields.fail("lengths", f"lengths in '{shortened(unit)}' are not known", 'Use "m" or "ft".')
    fields.source.length_unit = unit


def _finite(value: float) -> bool:
    return abs(value) < 1e15 and math.isfinite(value)


def _as_number(text: str) -> object:
    try:
        return float(text)
    except ValueError:
        return text


def _shown(value: object) -> str:
    return f"'{shortened(str(value))}'"

"""How the margin moves when one number of the plan is varied, and where it crosses the ratio."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from itertools import pairwise
from typing import Any

from stampreader.errors import PlanError, UsageError
from stampreader.margin import Verdict
from stampreader.rig.fields import Source
from stampreader.rig.judge import Worked, work_out
from stampreader.rig.lines import Path
from stampreader.rig.plan import Plan

STEPS = 12
MOST_STEPS = 200
_RANGE = re.compile(r"\s*([^=]+?)\s*=\s*(-?[\d.]+)\s*\.\.\s*(-?[\d.]+)\s*(?::\s*([\d.]+))?\s*")
_HOW = "Write NAME=FROM..TO or NAME=FROM..TO:STEP, such as angle=30..150:10."
_FORCE = re.compile(r"\s*([\d.,]+)\s*([A-Za-z]+)\s*")

Build = Callable[[Source], Plan]


@dataclass(frozen=True, slots=True)
class Step:
    """One value and what the plan then gives: worked out, or the reason it cannot be."""

    value: float
    worked: Worked | None
    refused: str = ""


@dataclass(frozen=True, slots=True)
class Crossing:
    """Where the system's margin crosses the ratio.

    Attributes:
        value: the last value that keeps the ratio, rounded to the side that keeps it.
        keeps_below: whether smaller values keep it.
    """

    value: Decimal
    keeps_below: bool


@dataclass(frozen=True, slots=True)
class Varied:
    """A plan with one number varied.

    Attributes:
        name: the number's place in the plan.
        unit: of the number, if it has one.
        convention: what an angle is measured from; empty for any other number.
    """

    name: str
    unit: str
    convention: str
    steps: tuple[Step, ...]
    crossings: tuple[Crossing, ...]


def vary(source: Source, text: str, build: Build) -> Varied:
    """Vary one number of a plan.

    Args:
        source: the plan's tables.
        text: as typed, such as `angle=30..150` or `load.force=1..4:0.5`.
        build: makes a plan of varied tables.

    Raises:
        UsageError: not a range, or a name that fits no number or several.
        PlanError: the plan can be worked out for none of the values.
    """
    name, values = _parse(text)
    path, present = _find(source, name)
    found = _FORCE.fullmatch(present) if isinstance(present, str) else None
    unit = found[2] if found else ""

    def at(value: float) -> Step:
        typed = f"{value:.9g}"
        put = f"{typed} {unit}" if unit else float(typed)
        try:
            return Step(value, work_out(build(source.with_value(path, put))))
        except PlanError as error:
            return Step(value, None, str(error))

    steps = tuple(at(value) for value in values)
    if all(step.worked is None for step in steps):
        raise PlanError(steps[0].refused, remedy="No value of this range gives a sound plan.")
    shown = unit or _unit_of(str(path[-1]))
    name = ".".join(map(str, path))
    crossings = tuple(_crossings(steps, at))
    return Varied(name, shown, _convention(source, path), steps, crossings)


def _parse(text: str) -> tuple[str, list[float]]:
    found = _RANGE.fullmatch(text)
    if found is None:
        raise UsageError(f"'{text}' is not a range to vary", remedy=_HOW)
    name, *numbers = found.groups()
    try:
        low, high, step = (None if n is None else float(n) for n in numbers)
    except ValueError as error:
        raise UsageError(f"'{text}' is not a range of numbers", remedy=_HOW) from error
    assert low is not None and high is not None
    if not low < high or step == 0 or max(abs(low), abs(high)) > 1e6:
        raise UsageError(f"'{text}' does not run from a smaller to a larger number", remedy=_HOW)
    step = step or (high - low) / STEPS
    count = round((high - low) / step + 0.5 - 1e-9)
    if count > MOST_STEPS:
        raise UsageError(f"'{text}' is over {MOST_STEPS} steps", remedy="Take a larger step.")
    values = [low + step * index for index in range(count)]
    return name, [value for value in values if value < high - 1e-9] + [high]


def _find(source: Source, name: str) -> tuple[Path, Any]:
    """The one number a name means: its key, with the names before it where one is not enough."""
    wanted = tuple(name.split("."))
    numbers = {path: value for path, value in _numbers(source.tables, ())}
    fitting = [path for path in numbers if tuple(map(str, path))[-len(wanted) :] == wanted]
    if len(fitting) != 1:
        named = sorted(".".join(map(str, path)) for path in fitting or numbers)
        listed = ", ".join(named[:12]) + (", …" if len(named) > 12 else "")
        what = "several numbers" if fitting else "no number"
        raise UsageError(f"'{name}' means {what} of this plan", remedy=f"Name one of: {listed}.")
    return fitting[0], numbers[fitting[0]]


def _numbers(value: Any, path: Path) -> Iterator[tuple[Path, Any]]:
    """Every number, and every force with its unit, in a plan's tables."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _numbers(inner, (*path, key))
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from _numbers(inner, (*path, place))
    elif _can_vary(value, path):
        yield path, value


def _can_vary(value: Any, path: Path) -> bool:
    if isinstance(value, str):
        return path[-1] in _FORCES and _FORCE.fullmatch(value) is not None
    return isinstance(value, int | float) and not isinstance(value, bool)


_FORCES = ("force", "strength", "tension", "modulus", "impact_force", "person")


def _convention(source: Source, path: Path) -> str:
    """What an angle is measured from, as the plan says beside it."""
    table: Any = source.tables
    for key in path[:-1]:
        table = table[key]
    return str(table["convention"]) if path[-1] == "angle" else ""


def _unit_of(key: str) -> str:
    return "°" if key in ("angle", "bearing") else "%" if key.endswith("percent") else ""


def _crossings(steps: tuple[Step, ...], at: Callable[[float], Step]) -> Iterator[Crossing]:
    for first, second in pairwise(steps):
        if first.worked is None or second.worked is None:
            continue
        if _keeps(first) is not _keeps(second):
            yield _between(first, second, at)


def _between(first: Step, second: Step, at: Callable[[float], Step]) -> Crossing:
    """Halve the step until the crossing is known to 0.01."""
    keeps_below = _keeps(first)
    low, high = first.value, second.value
    while high - low > 1e-3 * max(1.0, abs(high)) / 10:
        middle = (low + high) / 2
        step = at(middle)
        if step.worked is not None and _keeps(step) is keeps_below:
            low = middle
        else:
            high = middle
    side = ROUND_FLOOR if keeps_below else ROUND_CEILING
    value = Decimal(str(low if keeps_below else high))
    return Crossing(value.quantize(Decimal("0.01"), side), keeps_below)


def _keeps(step: Step) -> bool:
    """Whether the weakest piece with a figure keeps the ratio."""
    weakest = None if step.worked is None else step.worked.weakest
    return weakest is not None and weakest.judged.verdict is Verdict.ALLOWED

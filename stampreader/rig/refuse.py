"""Why a plan cannot be solved, in words: out of balance, over-constrained, a rope that pushes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NoReturn, TypeAlias

import numpy as np

from stampreader.rig.fields import plan_error
from stampreader.rig.geometry import angle_between_deg
from stampreader.rig.plan import Anchor, Plan, Rope

# not numpy.typing.NDArray: loading that costs more than solving a plan
Floats: TypeAlias = "np.ndarray[tuple[Any, ...], np.dtype[np.float64]]"
Flags: TypeAlias = "np.ndarray[tuple[Any, ...], np.dtype[np.bool_]]"


@dataclass(frozen=True, slots=True)
class Strand:
    """One stretch of rope between neighbouring stops; `way` points from `a` to `b`."""

    rope: int
    place: int
    a: str
    b: str
    way: Floats
    stretch: int


def refuse_undetermined(plan: Plan, parts: Sequence[Rope | Anchor]) -> NoReturn:
    """Refuse a plan where several parts could share a force in any way."""
    ropes = [part for part in parts if isinstance(part, Rope)]
    if len(parts) == 1 and ropes and all(_fixed(plan, stop.point) for stop in ropes[0].path):
        raise plan_error(
            plan.source,
            parts[0].line,
            f"rope '{parts[0].name}' runs between fixed points only: nothing tells its tension",
            'Give it tension = "…", or take it out.',
        )
    names = ", ".join(f"{type(part).__name__.lower()} '{part.name}'" for part in parts)
    raise plan_error(
        plan.source,
        parts[-1].line,
        f"statics alone cannot tell how much each of these takes: {names}",
        "Take one out, give a rope its tension, or make them the legs of one anchor, whose sharing "
        "has a rule.",
    )


def _fixed(plan: Plan, name: str) -> bool:
    return plan.points[plan.root(name)].kind.fixed


def refuse_unbalanced(plan: Plan, strands: Sequence[Strand], name: str, force: Floats) -> NoReturn:
    """Refuse a plan where a force is left over at a point."""
    point = plan.points[name]
    ways = _ways(plan, strands, name)
    if len(ways) == 2 and angle_between_deg(*ways) > 179.99:
        raise plan_error(
            plan.source,
            point.line,
            f"the ropes at '{name}' lie in one line (180° apart): no tension in them can hold a "
            "load across it",
            "Give the line its sag, or lower this point.",
        )
    raise plan_error(
        plan.source,
        point.line,
        f"point '{name}' is not in balance: {np.linalg.norm(force):.2f} kN would move it "
        f"{_in_words(force)}",
        "Place it where the pulls on it cancel (place = { between = […] } puts it in line), or "
        "hold it with another rope or leg.",
    )


def _ways(plan: Plan, strands: Sequence[Strand], name: str) -> list[tuple[float, ...]]:
    """The different directions in which ropes leave a point and what hangs on it."""
    ways: list[tuple[float, ...]] = []
    for strand in strands:
        for end, sign in ((strand.a, 1.0), (strand.b, -1.0)):
            way = tuple(map(float, sign * strand.way))
            if plan.root(end) == name and all(angle_between_deg(way, w) > 0.01 for w in ways):
                ways.append(way)
    return ways


def refuse_push(plan: Plan, strands: Sequence[Strand], tension: Floats, slack_kN: float) -> None:
    """Refuse a plan in which a rope would have to push; `tension` is `(states, strands)`."""
    if tension.min(initial=0) >= -slack_kN:
        return
    _, column = np.unravel_index(int(np.argmin(tension)), tension.shape)
    strand = strands[int(column)]
    rope = plan.ropes[strand.rope]
    raise plan_error(
        plan.source,
        rope.line,
        f"rope '{rope.name}' would have to push between '{strand.a}' and '{strand.b}'",
        "A rope only pulls: lead it to the other side, or take it out.",
    )


def _in_words(force: Floats) -> str:
    """A direction in words, the two larger parts only."""
    names = [("left", "right"), ("down", "up")]
    if len(force) == 3:
        names = [
            ("back along the first axis", "along the first axis"),
            ("back along the second axis", "along the second axis"),
            ("down", "up"),
        ]
    large = [
        pair[int(part > 0)]
        for part, pair in zip(force, names, strict=True)
        if abs(part) > 0.2 * float(np.linalg.norm(force))
    ]
    return " and ".join(large)

"""The check list of an inspection: what a competent person looks at on a connector."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from stampreader.errors import UsageError
from stampreader.standards import Locking, locking_of


class Part(StrEnum):
    """What a connector must have for a point to apply."""

    ALWAYS = "any connector"
    SPRING_GATE = "a gate that closes by itself"
    LOCK = "a lock"
    SCREW = "a screwed lock"
    SELF_LOCK = "a gate that locks by itself"


@dataclass(frozen=True, slots=True)
class CheckPoint:
    """One point of the list.

    Attributes:
        key: short word to name it on the command line.
        area: body, gate, lock, marks or history.
        words: what must be so for the point to pass.
        needs: part without which it does not apply.
    """

    key: str
    area: str
    words: str
    needs: Part = Part.ALWAYS

    @property
    def text(self) -> str:
        """The point as it stands in records: `gate: closes by itself`."""
        return f"{self.area}: {self.words}"


POINTS: tuple[CheckPoint, ...] = (
    CheckPoint("cracks", "body", "no cracks"),
    CheckPoint("shape", "body", "not bent or twisted"),
    CheckPoint("grooves", "body", "wear grooves within limits"),
    CheckPoint("corrosion", "body", "no corrosion or pitting"),
    CheckPoint("edges", "body", "no sharp edges or burrs"),
    CheckPoint("opens", "gate", "opens freely"),
    CheckPoint("closes", "gate", "closes by itself", Part.SPRING_GATE),
    CheckPoint("aligned", "gate", "meets the nose in line"),
    CheckPoint("rivet", "gate", "rivet sound", Part.SPRING_GATE),
    CheckPoint("spring", "gate", "spring strong", Part.SPRING_GATE),
    CheckPoint("sleeve", "lock", "sleeve moves and is whole", Part.LOCK),
    CheckPoint("threads", "lock", "threads clean and whole", Part.SCREW),
    CheckPoint("locks", "lock", "locks by itself", Part.SELF_LOCK),
    CheckPoint("marks", "marks", "legible"),
    CheckPoint("same", "marks", "as in the register"),
    CheckPoint("history", "history", "known, no fall or shock load"),
)
"""In the order of looking. Common practice; the maker's own list comes first."""


def find_point(word: str) -> CheckPoint:
    """The point of the list with this key.

    Raises:
        UsageError: there is none.
    """
    for point in POINTS:
        if point.key == word.strip().lower():
            return point
    keys = ", ".join(point.key for point in POINTS)
    raise UsageError(f"there is no point '{word.strip()}'", remedy=f"Points are {keys}.")


def not_applicable(shape: str, gate: str) -> frozenset[str]:
    """Keys of the points a connector does not have, from its shape and kind of gate.

    Where the kind of gate is not recorded every point applies: the person says what does not.

    Example: a wire gate has no lock: `sleeve`, `threads` and `locks` do not apply.
    """
    if "link" in shape.lower():
        missing = {Part.SPRING_GATE, Part.SELF_LOCK}
    else:
        missing = _MISSING.get(locking_of(gate), set())
    return frozenset(point.key for point in POINTS if point.needs in missing)


_MISSING: dict[Locking | None, set[Part]] = {
    Locking.NONE: {Part.LOCK, Part.SCREW, Part.SELF_LOCK},
    Locking.MANUAL: {Part.SELF_LOCK},
    Locking.AUTO: {Part.SCREW},
}

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
        noun: what is looked at, as it stands in records.
        words: what must be so for the point to pass.
        needs: part without which it does not apply.
    """

    key: str
    area: str
    noun: str
    words: str
    needs: Part = Part.ALWAYS

    @property
    def text(self) -> str:
        """The point as it stands in records: `gate: rivet`."""
        return f"{self.area}: {self.noun}"


POINTS: tuple[CheckPoint, ...] = (
    CheckPoint("cracks", "body", "cracks", "none, however fine"),
    CheckPoint("shape", "body", "deformation", "not bent, twisted or stretched"),
    CheckPoint("grooves", "body", "wear grooves", "within the maker's limits"),
    CheckPoint("corrosion", "body", "corrosion", "no pitting"),
    CheckPoint("edges", "body", "sharp edges", "no edges or burrs"),
    CheckPoint("opens", "gate", "opening", "opens freely, all the way"),
    CheckPoint("closes", "gate", "closing", "closes by itself from any place", Part.SPRING_GATE),
    CheckPoint("aligned", "gate", "alignment", "meets the nose in line"),
    CheckPoint("rivet", "gate", "rivet", "tight and whole", Part.SPRING_GATE),
    CheckPoint("spring", "gate", "spring", "strong and whole", Part.SPRING_GATE),
    CheckPoint("sleeve", "lock", "sleeve", "moves freely and is whole", Part.LOCK),
    CheckPoint("threads", "lock", "threads", "clean and whole", Part.SCREW),
    CheckPoint("locks", "lock", "self-locking", "locks by itself", Part.SELF_LOCK),
    CheckPoint("marks", "marks", "legibility", "figures and marks can be read"),
    CheckPoint("same", "marks", "identity", "as in the register"),
    CheckPoint("history", "history", "what it went through", "known, no fall or shock load"),
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

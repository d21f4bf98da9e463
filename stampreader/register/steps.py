"""Which life event is allowed in which state of a connector, as one table."""

from __future__ import annotations

from enum import StrEnum

from stampreader.register.events import Kind


class Life(StrEnum):
    """State of a connector's life, always worked out from its events."""

    REGISTERED = "registered"
    IN_SERVICE = "in-service"
    QUARANTINED = "quarantined"
    LOST = "lost"
    RETIRED = "retired"
    WITHDRAWN = "withdrawn"


LIFE_WORDS = {
    Life.REGISTERED: "registered, not yet in service",
    Life.IN_SERVICE: "in service",
    Life.QUARANTINED: "quarantined, not to be used",
    Life.LOST: "lost",
    Life.RETIRED: "retired for good",
    Life.WITHDRAWN: "withdrawn: the entry was undone",
}
"""Each state in words for people."""

_ANYTIME = {Kind.CORRECTED, Kind.SETTLED}

ALLOWED: dict[Life, frozenset[Kind]] = {
    Life.REGISTERED: frozenset(
        {
            Kind.PUT_IN_SERVICE,
            Kind.MOVED,
            Kind.INSPECTED,
            Kind.QUARANTINED,
            Kind.RETIRED,
            Kind.LOST,
            Kind.WITHDRAWN,
        }
        | _ANYTIME
    ),
    Life.IN_SERVICE: frozenset(
        {Kind.MOVED, Kind.INSPECTED, Kind.QUARANTINED, Kind.RETIRED, Kind.LOST} | _ANYTIME
    ),
    Life.QUARANTINED: frozenset(
        {Kind.MOVED, Kind.INSPECTED, Kind.QUARANTINED, Kind.RELEASED, Kind.RETIRED, Kind.LOST}
        | _ANYTIME
    ),
    Life.LOST: frozenset({Kind.FOUND, Kind.RETIRED} | _ANYTIME),
    Life.RETIRED: frozenset(_ANYTIME),
    Life.WITHDRAWN: frozenset(),
}
"""Events a connector may undergo, by its present state."""


def refusal(life: Life, kind: Kind) -> str | None:
    """Why the event is not allowed in this state, or `None` if it is.

    Example:
        >>> refusal(Life.RETIRED, Kind.INSPECTED)
        'it is retired for good and cannot be inspected'
    """
    if kind in ALLOWED[life]:
        return None
    verb = {
        Kind.REGISTERED: "registered again",
        Kind.PUT_IN_SERVICE: "put in service",
        Kind.RELEASED: "released",
    }.get(kind, str(kind))
    return f"it is {LIFE_WORDS[life]} and cannot be {verb}"

"""What speaks against a connector whatever the use, and the rules of uses as files."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from stampreader.standards import NO_THIRD_PARTY, third_party_marks

if TYPE_CHECKING:
    from stampreader.fit import Candidate, Use
    from stampreader.register import Connector, Intervals

MOST_BYTES = 100_000
OWN_RULES = "uses.toml"
"""Name of a team's own rules beside the register."""


def remarks_of(connector: Connector) -> tuple[str, ...]:
    """What is to be told of a connector wherever it appears."""
    remarks = [] if third_party_marks(connector.marks) else [NO_THIRD_PARTY]
    return (*remarks, *(["entered by hand"] if connector.by_hand else []))


def bars_of(
    connector: Connector, intervals: Intervals, today: date, *, for_a_margin: bool = False
) -> tuple[str, ...]:
    """Why a connector may not be used at all, whatever for; nothing if it may.

    For a margin one that is registered and not yet in service is not barred for that, and the
    reasons given are left out.
    """
    from stampreader.register import LIFE_WORDS, Life, next_due

    bars = []
    is_new = for_a_margin and connector.life is Life.REGISTERED
    if connector.life is not Life.IN_SERVICE and not is_new:
        told = connector.life_reason and not for_a_margin
        bars.append(LIFE_WORDS[connector.life] + (f": {connector.life_reason}" if told else ""))
    if for_a_margin and connector.conflicts:
        bars.append("recorded differently by two stations")
    elif connector.conflicts:
        bars += [f"in dispute between stations: {text}" for text in connector.conflicts]
    due_on = next_due(connector, intervals)
    if due_on is not None and due_on < today:
        bars.append(f"overdue for inspection since {due_on.isoformat()}")
    return tuple(bars)


def candidate_of(connector: Connector, intervals: Intervals, today: date) -> Candidate:
    """A registered connector as the rules of uses take it."""
    from stampreader.fit import Candidate

    return Candidate(
        id=connector.id,
        bars=bars_of(connector, intervals, today),
        gate=connector.gate,
        shape=connector.shape,
        marks=connector.marks,
        closed=connector.closed_kN,
        cross=connector.cross_kN,
        open=connector.open_kN,
    )


def shipped_rules() -> str:
    """The text of the rules that come with the program."""
    from importlib.resources import files

    return files("stampreader.fit").joinpath("uses.toml").read_text("utf-8")


def known_uses(register: Path, given: Path | None) -> tuple[dict[str, Use], str]:
    """The rules in force, and where a team's own came from (empty if there are none).

    Args:
        register: the register's file; `uses.toml` beside it holds the team's own rules.
        given: the team's file if named.

    Raises:
        RulesError: the team's file cannot be read or understood.
    """
    from stampreader.fit import merged, read_uses

    shipped = read_uses(shipped_rules(), "shipped rules")
    own = given or register.parent / OWN_RULES
    if given is None and not own.exists():
        return shipped, ""
    return merged(shipped, read_uses(_text_of(own), own.name)), str(own)


def _text_of(path: Path) -> str:
    from stampreader.fit import RulesError

    try:
        if path.stat().st_size > MOST_BYTES:
            raise RulesError(f"{path} is too long for rules")
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise RulesError(f"{path} is not text in UTF-8") from error
    except OSError as error:
        raise RulesError(f"{path} cannot be read: {error.strerror}") from error

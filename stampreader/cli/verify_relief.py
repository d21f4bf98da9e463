"""The work of `verify --relief`: a worn face against one entry, or against all of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from stampreader.cli.common import emit_json, register_path
from stampreader.cli.stacking import read_stack, stack_line, stack_lines
from stampreader.cli.verifying import Verification, verification, verification_lines
from stampreader.confirm import Compared, Verdict
from stampreader.register import Connector, Register, find_connector, list_connectors, open_register

if TYPE_CHECKING:
    from stampreader.photo import Photo
    from stampreader.reading import Attempt, StackReading

MOST_SHOWN = 8


@dataclass(frozen=True, slots=True)
class Candidate:
    """A connector of the register that what was read may belong to.

    Attributes:
        result: the comparison with its entry.
        agree: how many figures, marks and serials agree.
    """

    result: Verification
    agree: int


def verify_relief(
    given: Sequence[Path],
    readers: str | None,
    picture: Path | None,
    register: Path | None,
    *,
    as_json: bool,
) -> bool:
    """Read the shots together and compare; whether it matches the entry asked about.

    Args:
        given: the shots, and last the connector's id; without an id all entries are compared.
        readers: names of readers, or `None` for all.
        picture: where the picture of what was done goes.
        register: the register's file as given.
        as_json: print JSON Lines.
    """
    from stampreader.photo import find_photos
    from stampreader.reading import Attempt

    shots, id = _apart(given)
    with open_register(register_path(register)) as book:
        connector = None if id is None else find_connector(book, id)
        photos, found = read_stack(find_photos(shots), readers, picture)
        attempt = Attempt(found.reading.photo, reading=found.reading)
        if connector is not None:
            result = _verified(book, connector, attempt, photos, found)
            _show([result], photos, found, as_json=as_json, lines=verification_lines(result))
            return result.verdict is Verdict.MATCHES
        candidates = _candidates(book, attempt)
    results = [candidate.result for candidate in candidates]
    _show(results, photos, found, as_json=as_json, lines=candidate_lines(candidates))
    return False


def _apart(given: Sequence[Path]) -> tuple[Sequence[Path], str | None]:
    """Shots and id: the last word is an id unless there is such a file or folder."""
    return (given, None) if given[-1].exists() else (given[:-1], str(given[-1]))


def _verified(
    book: Register,
    connector: Connector,
    attempt: Attempt,
    photos: Sequence[Photo],
    found: StackReading,
) -> Verification:
    from stampreader.cli.unworn import unworn

    result = verification(book, connector, [attempt])
    return replace(result, unworn=unworn(book, connector, photos, found))


def _candidates(book: Register, attempt: Attempt) -> list[Candidate]:
    """Entries that nothing read contradicts and something supports, the likeliest first."""
    out = []
    for connector in list_connectors(book):
        result = verification(book, connector, [attempt])
        agree = sum(_agrees(item) for item in result.comparison.items)
        if agree and result.verdict is not Verdict.DIFFERS:
            out.append(Candidate(result, agree))
    return sorted(out, key=lambda candidate: -candidate.agree)


def _agrees(item: Compared) -> bool:
    """Whether the value read is the registered one, in doubt or not."""
    return item.verdict is Verdict.MATCHES or item.seen == item.registered


def candidate_lines(candidates: Sequence[Candidate]) -> Iterator[str]:
    """Which entries it may be."""
    if not candidates:
        yield "No connector of the register agrees with what was read."
        return
    many = len(candidates)
    yield f"It may be {'one of these' if many > 1 else 'this one'}; nothing here proves it:"
    for candidate in candidates[:MOST_SHOWN]:
        agreeing = [
            f"{item.field} {item.registered}"
            for item in candidate.result.comparison.items
            if _agrees(item)
        ]
        yield f"  {candidate.result.id:<10} {', '.join(agreeing)}"
    if many > MOST_SHOWN:
        yield f"  and {many - MOST_SHOWN} more"
    yield "Compare with one of them: stampreader verify --relief SHOT... ID"


def _show(
    results: Sequence[Verification],
    photos: Sequence[Photo],
    found: StackReading,
    *,
    as_json: bool,
    lines: Iterator[str],
) -> None:
    """The reading of the stack, then the comparison."""
    if as_json:
        emit_json([stack_line(photos, found), *(result.as_json() for result in results)])
        return
    typer.echo("\n".join(stack_lines(photos, found)) + "\n")
    typer.echo("\n".join(lines))

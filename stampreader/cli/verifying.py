"""The work of `verify`: photos of one connector against its entry in the register."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from stampreader.cli.fitness import remarks_of
from stampreader.confirm import (
    Compared,
    Comparison,
    Known,
    Verdict,
    compare_with_register,
    parse_label,
)
from stampreader.register import Connector, Register, stamped_alike
from stampreader.words import SLOTS, Reading, Stamp

if TYPE_CHECKING:
    from stampreader.likeness import Likeness
    from stampreader.reading import Attempt

WORDS = {
    Verdict.MATCHES: "matches the register",
    Verdict.DIFFERS: "DIFFERS from the register",
    Verdict.CANNOT_TELL: "cannot tell",
}


@dataclass(frozen=True, slots=True)
class Verification:
    """The answer of `verify`.

    Attributes:
        id: the connector asked about.
        comparison: everything compared.
        others: ids of connectors with the same figures and marks.
        problems: photos that could not be used, and why.
        remarks: what is to be told of the connector, such as no third-party mark.
        unworn: outline, size, gate and colour against the evidence pictures.
    """

    id: str
    comparison: Comparison
    others: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    unworn: tuple[Likeness, ...] = ()

    @property
    def verdict(self) -> Verdict:
        """Matches, differs or cannot tell; a photo that could not be used never matches."""
        if self.problems and self.comparison.verdict is Verdict.MATCHES:
            return Verdict.CANNOT_TELL
        return self.comparison.verdict

    def as_json(self) -> dict[str, Any]:
        """As a JSON object."""
        return {
            "id": self.id,
            "verdict": self.verdict.value,
            "compared": [
                {
                    "field": item.field,
                    "registered": item.registered,
                    "seen": item.seen,
                    "verdict": item.verdict.value,
                    "why": item.why or None,
                }
                for item in self.comparison.items
            ],
            "same_as": list(self.others),
            "problems": list(self.problems),
            "remarks": list(self.remarks),
            "unworn": [
                {
                    "field": item.field,
                    "then": item.before,
                    "now": item.now,
                    "speaks": item.speaks.value,
                    "why": item.why,
                }
                for item in self.unworn
            ],
        }


def verification(
    register: Register, connector: Connector, attempts: Sequence[Attempt]
) -> Verification:
    """Compare what was read with the entry."""
    stamps: list[Stamp] = []
    problems: list[str] = []
    labels: list[str] = []
    for attempt in attempts:
        if attempt.reading is None:
            problems.append(attempt.failure.message if attempt.failure else attempt.path)
            continue
        labels.extend(filter(None, map(parse_label, attempt.reading.labels)))
        stamp, problem = the_stamp(attempt.reading)
        stamps.extend([stamp] if stamp else [])
        problems.extend([problem] if problem else [])
    closed, cross, open_ = (connector.kN(slot) for slot in SLOTS)
    known = Known((closed, cross, open_), connector.marks, connector.serial)
    comparison = _with_labels(compare_with_register(known, stamps), connector.id, labels)
    alike = tuple(stamped_alike(register, connector))
    return Verification(connector.id, comparison, alike, tuple(problems), remarks_of(connector))


def the_stamp(reading: Reading) -> tuple[Stamp | None, str]:
    """The one stamp with figures on a photo; else why it cannot be told which is meant."""
    with_figures = [s for s in reading.stamps if any(s.figure(slot).kN for slot in SLOTS)]
    if len(with_figures) > 1:
        return None, (
            f"{reading.photo} shows {len(with_figures)} connectors; take a photo of one alone"
        )
    if with_figures:
        return with_figures[0], ""
    return (reading.stamps[0], "") if len(reading.stamps) == 1 else (None, "")


def _with_labels(comparison: Comparison, id: str, labels: Sequence[str]) -> Comparison:
    """A label with another id beside the connector is a difference by itself."""
    if not labels:
        return comparison
    same = {label.casefold() for label in labels} == {id.casefold()}
    verdict = Verdict.MATCHES if same else Verdict.DIFFERS
    item = Compared("label", id, ", ".join(dict.fromkeys(labels)), verdict)
    whole = comparison.verdict if same else Verdict.DIFFERS
    return replace(comparison, verdict=whole, items=(item, *comparison.items))


def verification_lines(result: Verification) -> Iterator[str]:
    """The answer for the screen."""
    yield f"{result.id}: {WORDS[result.verdict]}"
    for item in result.comparison.items:
        line = f"  {item.field:<7} register {item.registered:<18} photo {item.seen:<18}"
        yield f"{line} {item.verdict.value}{f' ({item.why})' if item.why else ''}".rstrip()
    if result.unworn:
        from stampreader.cli.unworn import unworn_lines

        yield from unworn_lines(result.unworn)
    for problem in result.problems:
        yield f"  {problem}"
    yield from (f"  ! {remark}" for remark in result.remarks)
    if result.verdict is Verdict.MATCHES and result.others:
        count = len(result.others)
        yield (
            f"  {count} other connector{'s' if count > 1 else ''} would match as well "
            f"({', '.join(result.others[:5])}{', …' if count > 5 else ''}): the stamp alone does "
            "not tell them apart; the label or serial number does."
        )

"""What the standards claimed by a stamp say about an entry, as advice beside the question."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from stampreader.confirm.entry import Entry
from stampreader.standards import Severity, check, locking_of
from stampreader.words import SLOTS


@dataclass(frozen=True, slots=True)
class Advice:
    """A remark from the standards; `short` if a figure is below what the stamp claims."""

    text: str
    short: bool = False


def standards_advice(entry: Entry) -> Sequence[Advice]:
    """What falls short of a claimed standard, and what else is worth a look."""
    findings = check(
        entry.marks,
        {slot: entry.kN(slot) for slot in SLOTS},
        locking=locking_of((entry.fields or {}).get("gate", "")),
    )
    return tuple(
        Advice(finding.sentence, finding.severity is Severity.FALLS_SHORT)
        for finding in findings
        if finding.severity is not Severity.INFO
    )

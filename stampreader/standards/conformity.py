"""Whether the marks themselves hang together: editions, classes, locks, conformity marks."""

from __future__ import annotations

import re
from collections.abc import Sequence

from stampreader.standards.claim import Claim, row_of
from stampreader.standards.finding import Finding, Locking, Severity
from stampreader.standards.sources import SOURCES
from stampreader.standards.tables import EDITIONS, rows_of

FIRST_CE_YEAR = 1995
"""Connectors for climbing and fall protection carry CE since the middle of this year."""

_E = "en12275-editions"
_CONFORMITY = re.compile(r"(CE|UKCA)\s*(\d*)")
_NEEDS_CONFORMITY = {"EN 362", "EN 12275"}


def check_claim(claim: Claim, locking: Locking | None) -> list[Finding]:
    """Edition and class of a claim, and whether a connector of that class must lock."""
    return [
        _finding(claim, Severity.ADVISORY, sentence, source)
        for sentence, source in (_edition(claim), _class(claim), _lock(claim, locking))
        if sentence
    ]


def check_conformity(
    marks: Sequence[str], claims: Sequence[Claim], made_year: int | None
) -> list[Finding]:
    """CE and UKCA: four digits beside them, and present where a European standard is claimed."""
    found = [m for m in (_CONFORMITY.fullmatch(text.strip().upper()) for text in marks) if m]
    findings = [_number(m[1], m[2]) for m in found if len(m[2]) != 4]
    old = made_year is not None and made_year <= FIRST_CE_YEAR
    european = [c for c in claims if c.standard in _NEEDS_CONFORMITY]
    if european and not found and not old:
        findings.append(
            _finding(
                european[0],
                Severity.INFO,
                f"{european[0].text} is claimed, but no CE or UKCA mark was seen: look at the "
                "other face, the papers and the packaging.",
                "marks-1995",
            )
        )
    if not found and any(c.standard == "UIAA" for c in claims):
        uiaa = next(c for c in claims if c.standard == "UIAA")
        sentence = "UIAA presupposes CE, but no CE mark was seen: look at the other face."
        findings.append(_finding(uiaa, Severity.INFO, sentence, "uiaa-ce"))
    return findings


def _finding(claim: Claim, severity: Severity, sentence: str, source: str) -> Finding:
    """A finding about a mark as a whole."""
    return Finding(severity, claim.text, sentence, source=SOURCES.get(source, ""))


def _number(mark: str, digits: str) -> Finding:
    """A conformity mark without a four-digit number."""
    has = f"has {len(digits)} digits beside it" if digits else "has no number beside it"
    sentence = (
        f"{mark} {has}; on a connector for climbing or fall protection four are due. "
        "Look again: a digit may be worn off, or the mark is not genuine."
    )
    source = SOURCES["ppe" if mark == "CE" else "ukca"]
    return Finding(Severity.ADVISORY, f"{mark} {digits}".strip(), sentence, source=source)


def _edition(claim: Claim) -> tuple[str, str]:
    """A stamped year that is no edition known here, or a class from another edition."""
    known = EDITIONS.get(claim.standard, ())
    if claim.year is None or not known:
        return "", ""
    if claim.year not in known:
        years = " and ".join(map(str, known))
        sentence = (
            f"{claim.text}: the edition of {claim.year} is not known here ({years} are); the "
            "year may be misread. It is judged by the latest."
        )
        return sentence, ""
    row = row_of(claim)
    if claim.standard == "EN 12275" and row is not None:
        if row.edition is not None and row.edition != claim.year:
            return (f"{claim.text}: class D ended with the edition of 1998, where T followed.", _E)
        if claim.letter == "T" and claim.year == 1998:
            return (f"{claim.text}: class T came with the edition of 2013; before it was D.", _E)
    return "", ""


def _class(claim: Claim) -> tuple[str, str]:
    """A class letter that stands in no table, or none where the standard has classes."""
    letters = [row.letter for row in rows_of(claim.standard) if row.letter]
    if not letters or row_of(claim) is not None:
        return "", ""
    if not claim.letter:
        return "", ""
    if claim.standard == "EN 12275" and claim.letter == "M":
        return f"{claim.text}: class M stood only in the draft of 2011, not in EN 12275:2013.", _E
    known = ", ".join(letters)
    sentence = f"{claim.text}: there is no class {claim.letter} here ({known} are); look again."
    return sentence, ""


def _lock(claim: Claim, locking: Locking | None) -> tuple[str, str]:
    """A connector without a lock that claims a standard whose connectors lock."""
    row = row_of(claim)
    if row is None or not row.locks:
        return "", ""
    if locking is Locking.NONE:
        source = "en362-lock" if claim.standard == "EN 362" else "z359-lock"
        return f"{claim.text} is for gates that lock, and this gate does not.", source
    if locking is Locking.MANUAL and claim.standard == "ANSI Z359.12":
        sentence = (
            f"{claim.text} is for gates that lock by themselves, and this one is locked by hand."
        )
        return sentence, "z359-lock"
    return "", ""

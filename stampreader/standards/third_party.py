"""Marks that somebody other than the maker stands behind."""

from __future__ import annotations

import re
from collections.abc import Iterable

from stampreader.standards.claim import read_claim

NO_THIRD_PARTY = "no third-party mark"
"""What is said of a connector that carries none, wherever it appears."""

BODIES: tuple[tuple[str, str, str], ...] = (
    ("CE with four digits", "the notified body that watches production", "ppe"),
    ("UKCA with four digits", "the approved body of the United Kingdom", "ukca"),
    ("UIAA", "the climbing federations' label, given only on top of CE", "uiaa-ce"),
    ("NFPA", "a certifying body, which the standard demands", "nfpa-certified"),
)
"""Marks that count, who stands behind each, and the key of its source."""

_CONFORMITY = re.compile(r"(?:CE|UKCA)\s*\d{4}")


def is_third_party(mark: str) -> bool:
    """Whether a mark says that a body independent of the maker stands behind the connector.

    The number of a standard alone is the maker's own claim: EN 362, EN 12275, ANSI Z359.12, ASTM
    and the like do not count, and CE without its number does not either.

    Example: `CE 9123` and `UIAA` do, `EN 12275:2013/H` does not.
    """
    if _CONFORMITY.fullmatch(" ".join(mark.upper().split())):
        return True
    claim = read_claim(mark)
    return claim is not None and claim.standard in ("UIAA", "NFPA")


def third_party_marks(marks: Iterable[str]) -> tuple[str, ...]:
    """Those of the marks that a third party stands behind; empty means: say so."""
    return tuple(mark for mark in marks if is_third_party(mark))

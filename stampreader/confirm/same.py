"""Whether a connector in photos is the one the register says it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from stampreader.confirm.entry import put_together
from stampreader.confirm.order import satisfies
from stampreader.words import SLOTS, Doubt, Figure, Slot, Stamp, State


class Verdict(StrEnum):
    """The answer to "is it the one?"."""

    MATCHES = "matches"
    DIFFERS = "differs"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True)
class Known:
    """What the register says of a connector, as far as a photo can show it."""

    figures: tuple[Decimal | None, Decimal | None, Decimal | None]
    marks: tuple[str, ...] = ()
    serial: str = ""


@dataclass(frozen=True, slots=True)
class Compared:
    """One thing compared: what the register says and what the photo shows.

    Attributes:
        field: `closed`, `cross`, `open`, `mark` or `serial`.
        registered, seen: both values in words.
        verdict: what this one says.
        why: why it cannot be told.
    """

    field: str
    registered: str
    seen: str
    verdict: Verdict
    why: str = ""


@dataclass(frozen=True, slots=True)
class Comparison:
    """The answer with everything it rests on."""

    verdict: Verdict
    items: tuple[Compared, ...]


CLEAR_DOUBTS = frozenset({Doubt.ONE_READER, Doubt.UNCALIBRATED, Doubt.BELOW_STANDARD})
"""Doubts that do not keep a clearly read value from contradicting the register."""

OPEN_DOUBTS = frozenset(
    {
        Doubt.READERS_DISAGREE,
        Doubt.TWO_VALUES,
        Doubt.OTHER_CONNECTOR,
        Doubt.SLOT_CONFLICT,
        Doubt.DIRECTION,
        Doubt.AMBIGUOUS_DIGITS,
    }
)
"""Doubts in which another value is just as likely: even an equal value proves nothing."""

CLEARLY_READ = 0.9
"""Confidence from which a value that differs is called a difference and not a doubt."""


def compare_with_register(known: Known, stamps: Sequence[Stamp]) -> Comparison:
    """Compare figures, marks and serial of one connector's photos with the register.

    It matches only if every registered figure was seen and is the same. A value read with doubt
    that differs makes it impossible to tell; one read clearly makes it differ.
    """
    stamp = put_together(stamps)
    items = [
        *(
            _figure(slot, registered, stamp.figure(slot))
            for slot, registered in zip(SLOTS, known.figures, strict=True)
            if registered is not None or stamp.figure(slot).kN is not None
        ),
        *_marks(known.marks, tuple(mark.text for mark in stamp.marks)),
        *_serial(known.serial, stamp.serial or ""),
    ]
    return Comparison(_overall(known, items), tuple(items))


def _overall(known: Known, items: Sequence[Compared]) -> Verdict:
    verdicts = {item.verdict for item in items}
    if Verdict.DIFFERS in verdicts:
        return Verdict.DIFFERS
    figures = [item for item in items if item.field in {slot.value for slot in SLOTS}]
    if not figures or any(item.verdict is not Verdict.MATCHES for item in figures):
        return Verdict.CANNOT_TELL
    return Verdict.MATCHES


def _figure(slot: Slot, registered: Decimal | None, figure: Figure) -> Compared:
    said, seen = _said(registered), _said(figure.kN)
    doubts = "; ".join(doubt.value for doubt in figure.doubts)
    if figure.kN is None:
        why = doubts or "not seen on the photo"
        return Compared(slot.value, said, "not seen", Verdict.CANNOT_TELL, why)
    if registered is None:
        why = "the register holds no figure to compare with"
        return Compared(slot.value, "unknown", seen, Verdict.CANNOT_TELL, why)
    if figure.kN == registered and OPEN_DOUBTS.isdisjoint(figure.doubts):
        return Compared(slot.value, said, seen, Verdict.MATCHES)
    if figure.kN != registered and _is_clear(figure):
        return Compared(slot.value, said, seen, Verdict.DIFFERS)
    why = f"read as {seen}, but in doubt: {doubts or 'read with little confidence'}"
    return Compared(slot.value, said, seen, Verdict.CANNOT_TELL, why)


def _is_clear(figure: Figure) -> bool:
    if figure.state is State.SURE:
        return True
    return (
        figure.state is State.ASK
        and figure.confidence >= CLEARLY_READ
        and CLEAR_DOUBTS.issuperset(figure.doubts)
    )


def _marks(registered: Sequence[str], seen: Sequence[str]) -> list[Compared]:
    """Marks: one not seen proves nothing; another number or class of the same family does."""
    items = []
    for mark in registered:
        rivals = [other for other in seen if _family(other) == _family(mark)]
        if any(satisfies(other, mark) or satisfies(mark, other) for other in rivals):
            items.append(Compared("mark", mark, mark, Verdict.MATCHES))
        elif rivals:
            items.append(Compared("mark", mark, ", ".join(rivals), Verdict.DIFFERS))
        else:
            items.append(
                Compared("mark", mark, "not seen", Verdict.CANNOT_TELL, "not seen on the photo")
            )
    return items


def _family(mark: str) -> str:
    """What a mark is one of: `CE 9123` of `CE`, `EN 362:2004/B` of `EN 362`."""
    head = mark.split(":")[0].split("/")[0]
    return "CE" if head.startswith("CE ") else "UKCA" if head.startswith("UKCA ") else head


def _serial(registered: str, seen: str) -> list[Compared]:
    if not registered:
        return []
    if not seen:
        why = "not seen on the photo"
        return [Compared("serial", registered, "not seen", Verdict.CANNOT_TELL, why)]
    same = _squeezed(registered) == _squeezed(seen)
    return [Compared("serial", registered, seen, Verdict.MATCHES if same else Verdict.DIFFERS)]


def _squeezed(text: str) -> str:
    return "".join(character for character in text.upper() if character.isalnum())


def _said(value: Decimal | None) -> str:
    return "unknown" if value is None else str(value)

"""A photo sent by phone becomes an arrival that waits, and the answer the phone shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from stampreader.confirm import Matched, Taken, entry_of, match, outcome
from stampreader.errors import RefusedStep
from stampreader.reading import Attempt
from stampreader.register import (
    Crop,
    Register,
    add_arrival,
    add_photos,
    arrival_of_photo,
    connectors_on,
    id_is_taken,
    keep_reading,
    waiting,
    waiting_with_label,
)
from stampreader.web.show_question import photo_advice
from stampreader.words import SLOTS, Reading, State

NOT_READ = "–"
WORDS = {
    State.SURE: "sure",
    State.ASK: "read, to be looked at",
    State.NONE: "not read",
}


@dataclass(frozen=True, slots=True)
class Sent:
    """What came of one photo, as the phone shows it.

    Attributes:
        state: `sure`, `ask`, `none`, `known` or `failed`.
        figures: closed, cross-loaded, gate open as text; empty where there are none to show.
        words: what came of it.
        advice: what to do for a better photo.
        crop: evidence picture.
        arrival: the arrival it belongs to, if another photo may be added.
        known: id of a connector in the register to look up.
    """

    state: str
    words: str
    figures: tuple[str, ...] = ()
    advice: tuple[str, ...] = ()
    crop: str = ""
    arrival: int | None = None
    known: str = ""


def arrive(
    register: Register,
    attempt: Attempt,
    kept: Path,
    delivery: str,
    *,
    at: datetime,
    onto: int | None = None,
) -> Sent:
    """Put what a photo shows on the list of arrivals.

    Args:
        register: the register.
        attempt: the photo as read, with crops.
        kept: where the photo is kept.
        delivery: name of the delivery it belongs to.
        at: the present time.
        onto: the arrival it is another photo of.
    """
    assert attempt.reading is not None, "a failure has nothing to put on the list"
    reading = replace(attempt.reading, photo=str(kept))
    with register.writing():
        known = _known(register, reading.sha256)
        if known is not None:
            return known
        crops = [Crop(reading.sha256, n, "image/jpeg", p) for n, p in enumerate(attempt.crops)]
        keep_reading(register, reading, crops, at=at)
        matched = match([Taken(reading, tuple(crop.sha256 for crop in crops))])
        if onto is not None and len(matched) == 1:
            add_photos(register, onto, matched[0].seen)
            return _shown(register, [onto], reading)
        keys = []
        for one in matched:
            taken = _put_on_list(register, one, delivery, at)
            if isinstance(taken, Sent):
                return taken
            keys.append(taken)
        return _shown(register, keys, reading)


def _known(register: Register, sha256: str) -> Sent | None:
    """What to tell of a photo that was sent before."""
    ids = [id for _, id in connectors_on(register, sha256)]
    if ids:
        return Sent("known", f"This very photo is known: {', '.join(ids)} was entered from it.")
    for row in arrival_of_photo(register, sha256):
        state = "waits to be confirmed" if row["status"] == "waiting" else "was set aside"
        return Sent("known", f"This very photo is known: it {state}.")
    return None


def _put_on_list(register: Register, matched: Matched, delivery: str, at: datetime) -> int | Sent:
    label = matched.label
    if label is not None and id_is_taken(register, label):
        return Sent("known", f"{label} is in the register already.", known=label)
    waits = waiting_with_label(register, label) if label is not None else None
    if waits is not None:
        add_photos(register, waits, matched.seen)
        return waits
    return add_arrival(register, delivery, matched.seen, at=at, label=label, notes=matched.notes)


def _shown(register: Register, keys: Sequence[int], reading: Reading) -> Sent:
    """The first arrival of a photo in words, and how many there are."""
    arrivals = waiting(register, keys=keys)
    if not arrivals:
        raise RefusedStep("it was decided meanwhile", remedy="Take a new photo without adding it.")
    entry = entry_of(arrivals[0])
    state = outcome(entry)
    stamps = (entry.stamp,) if state is State.ASK else reading.stamps
    words = WORDS[state]
    if len(arrivals) > 1:
        words = f"{len(arrivals)} connectors in one photo; the first one {words}"
    return Sent(
        state=state.value,
        words=words,
        figures=tuple(str(entry.kN(s)) if entry.kN(s) is not None else NOT_READ for s in SLOTS),
        advice=() if state is State.SURE else photo_advice(stamps),
        crop=arrivals[0].seen[-1].crop or "",
        arrival=arrivals[0].key if len(arrivals) == 1 else None,
    )

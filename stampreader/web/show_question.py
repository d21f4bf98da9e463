"""A question as the page shows it. Pure: values in, values for the template out."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import PurePath

from stampreader.confirm import Asked, Decision, Question
from stampreader.web.overlay import Drawing, crop_drawing
from stampreader.web.typed import shown_fields
from stampreader.words import SLOTS, Arrival, Doubt, Quad, Sighting, Slot, Stamp, State

FIGURE_WORDS = {
    Slot.CLOSED: ("closed", "along the spine, gate closed"),
    Slot.CROSS: ("cross", "across the spine"),
    Slot.OPEN: ("open", "along the spine, gate open"),
}
STATE_WORDS = {
    "sure": "sure",
    "ask": "please look",
    "none": "not read",
    "typed": "typed",
    "absent": "none seen",
}

WIDE = 2.4
"""A picture so many times wider than high is a strip."""

CutAlong = Callable[[Stamp], Quad | None]


@dataclass(frozen=True, slots=True)
class FigureShown:
    """One figure: direction, value, how far it may be trusted, and why not further.

    Attributes:
        slot: `closed`, `cross` or `open`.
        meaning: the direction in words.
        value: in kN as text; empty where there is none.
        state: `sure`, `ask`, `none`, `typed` or `absent`.
        words: the state in words.
        doubts: reasons, each in words.
        read: what was read where a person typed something else.
    """

    slot: str
    meaning: str
    value: str
    state: str
    words: str
    doubts: tuple[str, ...] = ()
    read: str = ""


@dataclass(frozen=True, slots=True)
class PictureShown:
    """An evidence picture: its crop, the boxes on it, and the whole photo it was cut from."""

    crop: str
    drawing: Drawing | None
    arrival: int
    number: int
    name: str


@dataclass(frozen=True, slots=True)
class MemberShown:
    """One connector of the question."""

    key: int
    number: int
    name: str
    label: str
    serial: str
    pictures: tuple[PictureShown, ...]


@dataclass(frozen=True, slots=True)
class QuestionShown:
    """Everything the page shows of a question.

    Attributes:
        headline: what it is about.
        asked: `group`, `one` or `by hand`.
        figures: closed, cross-loaded, gate open.
        marks: standard marks.
        fields: other fields of the entry as text.
        warnings: figures below what the stamp claims.
        remarks: other things to look at.
        members: the connectors meant, or the part of them that is shown.
        count: how many connectors it is about.
        may: decisions that make sense, by name.
    """

    headline: str
    asked: str
    figures: tuple[FigureShown, ...]
    marks: tuple[str, ...]
    fields: dict[str, str]
    warnings: tuple[str, ...]
    remarks: tuple[str, ...]
    members: tuple[MemberShown, ...]
    count: int
    may: frozenset[str]

    @property
    def is_wide(self) -> bool:
        """Whether every picture is a strip, better shown above the figures than beside them."""
        drawings = [one.drawing for member in self.members for one in member.pictures]
        return bool(drawings) and all(
            drawing is not None and drawing.width > WIDE * drawing.height for drawing in drawings
        )


EVERYONE = slice(None)


def question_shown(
    question: Question, cut_along: CutAlong, part: slice = EVERYONE
) -> QuestionShown:
    """A question as the page shows it.

    Args:
        question: as `confirm` asks it.
        cut_along: where the crop of a stamp was cut from its photo.
        part: which of the members are shown.
    """
    single = len(question.members) == 1
    return QuestionShown(
        headline=_headline(question),
        asked=question.asked.value,
        figures=tuple(_figure(question, slot) for slot in SLOTS),
        marks=question.entry.marks,
        fields=shown_fields(question),
        warnings=tuple(a.text for a in question.advice if a.short),
        remarks=(*(a.text for a in question.advice if not a.short), *question.remarks),
        members=tuple(
            _member(number, arrival, question, cut_along, single)
            for number, arrival in list(enumerate(question.members, 1))[part]
        ),
        count=len(question.members),
        may=frozenset(decision.value for decision in question.may if decision is not Decision.STOP),
    )


def _headline(question: Question) -> str:
    if question.asked is Asked.GROUP:
        return f"{len(question.members)} connectors agree, every figure sure"
    label = question.members[0].label
    name = f"One connector, {label}" if label else "One connector"
    if question.asked is Asked.BY_HAND:
        return f"{name}: nothing could be read. Type what is stamped"
    return f"{name}: please look at it"


def _figure(question: Question, slot: Slot) -> FigureShown:
    entry = question.entry
    figure, value = entry.stamp.figure(slot), entry.kN(slot)
    read = ""
    if slot in entry.typed:
        state = "typed"
        read = "" if figure.kN == value else f"read: {figure.kN or 'nothing'}"
    elif figure.kN is None and not figure.doubts:
        state = "absent"
    else:
        state = figure.state.value
    name, meaning = FIGURE_WORDS[slot]
    words = STATE_WORDS[state]
    if state == "typed" and value is None:
        words = "typed: none stamped"
    return FigureShown(
        slot=name,
        meaning=meaning,
        value="" if value is None else str(value),
        state=state,
        words=words,
        doubts=() if slot in entry.typed else tuple(doubt.value for doubt in figure.doubts),
        read=read,
    )


def _member(
    number: int, arrival: Arrival, question: Question, cut_along: CutAlong, single: bool
) -> MemberShown:
    return MemberShown(
        key=arrival.key,
        number=number,
        name=" + ".join(_photo_name(sighting) for sighting in arrival.seen),
        label=arrival.label or "",
        serial=question.entry.serial if single else _serial(arrival),
        pictures=tuple(_pictures(arrival, cut_along)),
    )


def _serial(arrival: Arrival) -> str:
    return next((s.stamp.serial for s in arrival.seen if s.stamp.serial), "")


def _pictures(arrival: Arrival, cut_along: CutAlong) -> Iterator[PictureShown]:
    for number, sighting in enumerate(arrival.seen):
        if sighting.crop is not None:
            quad = cut_along(sighting.stamp)
            drawing = None if quad is None else crop_drawing(sighting.stamp, quad)
            yield PictureShown(sighting.crop, drawing, arrival.key, number, _photo_name(sighting))


def _photo_name(sighting: Sighting) -> str:
    """File name of a photo, and which connector of it is meant if it shows several."""
    name = "".join(c if c.isprintable() else "?" for c in PurePath(sighting.path).name)
    return name if sighting.number == 0 else f"{name} (connector {sighting.number + 1})"


ADVICE: dict[Doubt, str] = {
    Doubt.TOO_SMALL: "Go closer, so that the stamp fills the picture.",
    Doubt.WEAK_GLYPH: "Turn it towards the light, and hold the phone still.",
    Doubt.DIRECTION: "Show more of the stamp, so that it can be told which way is up.",
    Doubt.AMBIGUOUS_DIGITS: "Show more of the stamp, so that it can be told which way is up.",
    Doubt.NO_PICTOGRAM: "Show the little pictures beside the figures too.",
    Doubt.ORDER_ONLY: "Show the little pictures beside the figures too.",
    Doubt.SLOT_CONFLICT: "Show the little pictures beside the figures too.",
    Doubt.OTHER_CONNECTOR: "Put it by itself, with no other connector beside it.",
    Doubt.TWO_VALUES: "Turn it towards the light, and take it straight from above.",
    Doubt.READERS_DISAGREE: "Turn it towards the light, and take it straight from above.",
    Doubt.ONE_READER: "Turn it towards the light, and take it straight from above.",
    Doubt.UNIT_MISSING: "Show the whole line of figures with its kN.",
}
"""What to do for a better photo, by doubt; the other doubts are for the eye, not the camera."""


CLOSER = "Go closer, turn the stamp towards the light, and hold the phone still."


def photo_advice(stamps: tuple[Stamp, ...]) -> tuple[str, ...]:
    """What to do for a better photo, at most two sentences, those that concern most first."""
    if all(stamp.figure(slot).kN is None for stamp in stamps for slot in SLOTS):
        return (CLOSER,)
    counted: dict[str, int] = {}
    for stamp in stamps:
        for slot in SLOTS:
            figure = stamp.figure(slot)
            for doubt in figure.doubts if figure.state is not State.SURE else ():
                if doubt in ADVICE:
                    counted[ADVICE[doubt]] = counted.get(ADVICE[doubt], 0) + 1
    return tuple(sorted(counted, key=lambda text: -counted[text])[:2])

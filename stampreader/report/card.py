"""The record card of one connector: everything the register holds, to sign and file."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from stampreader.report.page import (
    Align,
    Block,
    Cell,
    Column,
    Document,
    Facts,
    Heading,
    Notice,
    Paragraph,
    Picture,
    Pictures,
    Printing,
    Signatures,
    Strength,
    Strengths,
    Table,
)

DIRECTIONS = {
    "closed": "Closed · along the spine",
    "cross": "Cross-loaded · across it",
    "open": "Gate open · along the spine",
}
_STATEMENT = "This card shows what the register held for connector {} when it was printed."


@dataclass(frozen=True, slots=True)
class FigureLine:
    """A figure as confirmed: direction (`closed`, `cross`, `open`), value, where it comes from."""

    direction: str
    kN: Decimal | None
    origin: str = ""


@dataclass(frozen=True, slots=True)
class Evidence:
    """A crop of a photo with what was read on it.

    Attributes:
        picture: PNG or JPEG bytes.
        figures: what was read, such as `27 kN closed, 8 kN cross, 7 kN open`.
        photo: name of the photo.
        sha256: of the photo's file, hex.
        taken_on: as the camera recorded it.
        reader: name and version of the readers.
    """

    picture: bytes
    figures: str
    photo: str = ""
    sha256: str = ""
    taken_on: str = ""
    reader: str = ""


@dataclass(frozen=True, slots=True)
class HistoryLine:
    """One event: day, what happened, by whom, why or how."""

    day: date
    what: str
    who: str
    detail: str = ""
    number: str = ""


@dataclass(frozen=True, slots=True)
class InspectionLine:
    """One inspection: day, competent person, result, what failed or was measured."""

    day: date
    who: str
    result: str
    findings: str = ""


@dataclass(frozen=True, slots=True)
class MarginLine:
    """The margin in one direction, all values already rounded to the safe side."""

    direction: str
    strength_kN: Decimal | None
    load_kN: Decimal
    margin: Decimal | None
    allowed_kN: Decimal | None
    verdict: str


@dataclass(frozen=True, slots=True)
class Card:
    """What stands on a record card; an empty field is shown as a dash."""

    id: str
    state: str
    maker: str = ""
    model: str = ""
    shape: str = ""
    gate: str = ""
    material: str = ""
    serial: str = ""
    batch: str = ""
    made_on: str = ""
    delivery: str = ""
    in_service_on: date | None = None
    place: str = ""
    next_due: date | None = None
    figures: tuple[FigureLine, ...] = ()
    marks: tuple[str, ...] = ()
    findings: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    evidence: tuple[Evidence, ...] = ()
    history: tuple[HistoryLine, ...] = ()
    inspections: tuple[InspectionLine, ...] = ()
    margins: tuple[MarginLine, ...] = ()
    ratio: Decimal | None = None


def card_document(card: Card, printing: Printing) -> Document:
    """The record card: identity, figures, marks, evidence, inspections, history, signatures."""
    blocks: list[Block] = [Notice(warning) for warning in card.warnings]
    blocks += [_identity(card), Heading("Stamped strengths"), _strengths(card)]
    blocks += _marks(card)
    if card.margins:
        blocks += [Heading(f"Margins at {card.ratio}:1"), margins_table(card.margins)]
    blocks += [Heading("Evidence"), Pictures(tuple(_picture(e) for e in card.evidence))]
    blocks += [Heading("Inspections"), _inspections(card), Heading("History"), _history(card)]
    blocks += [Signatures(_STATEMENT.format(card.id), ("Equipment officer", "Competent person"))]
    name = " ".join(filter(None, (card.maker, card.model))) or "maker and model not recorded"
    return Document("Record card", f"Connector {card.id}", tuple(blocks), printing, subtitle=name)


def _identity(card: Card) -> Facts:
    pairs: tuple[tuple[str, Cell], ...] = (
        ("State", card.state),
        ("Next inspection", card.next_due),
        ("Maker", card.maker),
        ("Model", card.model),
        ("Shape", card.shape),
        ("Gate", card.gate),
        ("Material", card.material),
        ("Made", card.made_on),
        ("Serial", card.serial),
        ("Batch", card.batch),
        ("Delivery", card.delivery),
        ("In service since", card.in_service_on),
        ("Place", card.place),
        ("Marks", card.marks),
    )
    return Facts(pairs)


def _strengths(card: Card) -> Strengths:
    known = {line.direction: line for line in card.figures}
    lines = [known.get(slot, FigureLine(slot, None)) for slot in DIRECTIONS]
    return Strengths(
        tuple(
            Strength(
                DIRECTIONS[line.direction],
                line.kN,
                line.origin
                or ("" if line.kN is not None else "None is recorded for this direction."),
            )
            for line in lines
        )
    )


def _marks(card: Card) -> list[Block]:
    return [Paragraph(finding) for finding in card.findings]


def margins_table(lines: tuple[MarginLine, ...]) -> Table:
    """Strength, load, margin, allowed load and verdict by direction, with the caution."""
    columns = (
        Column("Direction", 1.4),
        Column("Strength kN", 1.0, Align.RIGHT),
        Column("Load kN", 1.0, Align.RIGHT),
        Column("Margin", 1.0, Align.RIGHT),
        Column("Allowed load kN", 1.2, Align.RIGHT),
        Column("Verdict", 2.6),
    )
    rows = tuple(
        (
            line.direction,
            "unknown" if line.strength_kN is None else line.strength_kN,
            line.load_kN,
            "unknown" if line.margin is None else line.margin,
            "none" if line.allowed_kN is None else line.allowed_kN,
            line.verdict,
        )
        for line in lines
    )
    return Table("Margins", columns, rows, margins=True)


def _picture(evidence: Evidence) -> Picture:
    lines = [evidence.figures or "No figure was read on this photo."]
    if evidence.photo:
        lines.append(f"Photo {evidence.photo}")
    if evidence.taken_on:
        lines.append(f"Taken {evidence.taken_on}")
    if evidence.sha256:
        parts = [evidence.sha256[start : start + 8] for start in range(0, 64, 8)]
        lines.append(f"SHA-256 {' '.join(parts)}")
    if evidence.reader:
        lines.append(f"Read by {evidence.reader}")
    return Picture(evidence.picture, tuple(lines))


def _inspections(card: Card) -> Table:
    columns = (
        Column("Day", 1.0),
        Column("Competent person", 1.6),
        Column("Result", 1.0),
        Column("Findings", 4.4),
    )
    rows = tuple((i.day, i.who, i.result, i.findings) for i in card.inspections)
    return Table("Inspections", columns, rows, empty="No inspection is recorded.")


def _history(card: Card) -> Table:
    columns = (
        Column("Day", 1.0),
        Column("What", 1.6),
        Column("By", 1.4),
        Column("Detail", 3.2),
        Column("Entry", 1.2),
    )
    rows = tuple((h.day, h.what, h.who, h.detail, h.number) for h in card.history)
    return Table("History", columns, rows)

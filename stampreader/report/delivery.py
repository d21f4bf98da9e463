"""The acceptance report of a delivery: what was ordered against what was read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from stampreader.report.page import (
    Align,
    Block,
    Choices,
    Column,
    Document,
    Facts,
    Heading,
    Notice,
    Picture,
    Pictures,
    Printing,
    Signatures,
    Table,
)


@dataclass(frozen=True, slots=True)
class OrderLine:
    """One line of the order and how much of it came; `ordered` is `None` if no count was given."""

    name: str
    ordered: int | None
    arrived: int
    figures: str = ""
    marks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ReadLine:
    """One connector of the delivery as read and decided.

    Attributes:
        id: its id in the register; empty while it waits.
        decision: such as `confirmed`, `corrected`, `waiting`, `set aside`.
        set_aside: not a connector of the delivery after all, such as a photo taken twice.
        differences: how it differs from the order, in words.
    """

    id: str
    name: str = ""
    serial: str = ""
    closed_kN: Decimal | None = None
    cross_kN: Decimal | None = None
    open_kN: Decimal | None = None
    marks: tuple[str, ...] = ()
    decision: str = ""
    differences: tuple[str, ...] = ()
    picture: bytes | None = None
    set_aside: bool = False


@dataclass(frozen=True, slots=True)
class Delivery:
    """A delivery as it was taken in.

    Attributes:
        differences: those of the whole delivery, such as a count.
        advice: what the claimed standards demand and is not met, in words.
    """

    name: str
    taken_in_on: date | None = None
    taken_in_by: str = ""
    order: tuple[OrderLine, ...] = ()
    lines: tuple[ReadLine, ...] = ()
    differences: tuple[str, ...] = ()
    advice: tuple[str, ...] = ()

    @property
    def arrived(self) -> tuple[ReadLine, ...]:
        """Its connectors, without what was set aside."""
        return tuple(line for line in self.lines if not line.set_aside)

    @property
    def waiting(self) -> int:
        """How many are not confirmed yet."""
        return sum(1 for line in self.arrived if not line.id)


def delivery_document(delivery: Delivery, printing: Printing) -> Document:
    """The acceptance report: order, differences, every connector, decision and signatures."""
    odd = [line for line in delivery.lines if line.differences]
    blocks: list[Block] = [_summary(delivery), _verdict(delivery, len(odd))]
    blocks += [Heading("Ordered and arrived"), _order_table(delivery.order)]
    if delivery.differences or odd or delivery.advice:
        blocks += [Heading("Differences"), _differences(delivery, odd)]
    pictured = [line for line in odd if line.picture is not None]
    if pictured:
        blocks += [Pictures(tuple(_picture(line) for line in pictured))]
    blocks += [Heading("Connectors"), _lines_table(delivery.lines)]
    blocks += [
        Choices(
            "The delivery is",
            ("accepted", "accepted, with the differences above", "sent back"),
        ),
        Signatures(_statement(delivery, len(odd)), ("Taken in by", "Equipment officer")),
    ]
    return Document(
        "Acceptance report", f"Delivery {delivery.name}", tuple(blocks), printing,
        subtitle="What was ordered, what arrived, and what is stamped on it",
    )  # fmt: skip


def _summary(delivery: Delivery) -> Facts:
    ordered = [line.ordered for line in delivery.order if line.ordered is not None]
    return Facts(
        (
            ("Taken in on", delivery.taken_in_on),
            ("Taken in by", delivery.taken_in_by),
            ("Ordered", sum(ordered) if ordered else "not stated"),
            ("Arrived", len(delivery.arrived)),
            ("In the register", len(delivery.arrived) - delivery.waiting),
            ("Waiting", delivery.waiting),
        )
    )


def _statement(delivery: Delivery, odd: int) -> str:
    differ = "none differs" if not odd else f"{odd} differ{'s' if odd == 1 else ''}"
    return (
        f"Delivery {delivery.name}: {len(delivery.arrived)} arrived, {differ} from the order, "
        "as listed in this report."
    )


def _verdict(delivery: Delivery, odd: int) -> Notice:
    if not delivery.order:
        return Notice("No order was given; nothing was compared.")
    if not odd and not delivery.differences and not delivery.waiting:
        return Notice("Every connector was confirmed and agrees with the order.")
    parts = []
    if delivery.differences:
        parts.append("; ".join(delivery.differences))
    if odd:
        verb = "differs" if odd == 1 else "differ"
        parts.append(f"{odd} of {len(delivery.arrived)} connectors {verb} from the order")
    if delivery.waiting:
        parts.append(f"{delivery.waiting} not confirmed yet and not in the register")
    return Notice(f"{'. '.join(part[0].upper() + part[1:] for part in parts)}.")


def _order_table(order: Sequence[OrderLine]) -> Table:
    columns = (
        Column("Order line", 2.6),
        Column("Figures", 1.0),
        Column("Marks", 2.0),
        Column("Ordered", 0.8, Align.RIGHT),
        Column("Arrived", 0.8, Align.RIGHT),
    )
    rows = tuple(
        (
            line.name or "any", line.figures or "any", line.marks or "any",
            "any" if line.ordered is None else line.ordered, line.arrived,
        )
        for line in order
    )  # fmt: skip
    strong = frozenset(
        index for index, line in enumerate(order) if line.ordered not in (None, line.arrived)
    )
    return Table("Order", columns, rows, empty="No order was given.", strong=strong)


def _differences(delivery: Delivery, odd: Sequence[ReadLine]) -> Table:
    rows = [("whole delivery", "", text) for text in delivery.differences]
    rows += [
        (line.id or "not registered", line.serial, "; ".join(line.differences)) for line in odd
    ]
    rows += [("", "", text) for text in delivery.advice]
    columns = (Column("Connector", 1.2), Column("Serial", 1.2), Column("Difference", 4.6))
    return Table("Differences", columns, tuple(rows))


def _picture(line: ReadLine) -> Picture:
    assert line.picture is not None
    figures = "/".join("–" if kN is None else f"{kN:f}" for kN in
                       (line.closed_kN, line.cross_kN, line.open_kN))  # fmt: skip
    head = " ".join(filter(None, (line.id or "not registered", line.serial)))
    return Picture(line.picture, (head, f"Read {figures} kN", *line.differences))


def _lines_table(lines: Sequence[ReadLine]) -> Table:
    columns = (
        Column("Id", 1.3),
        Column("Maker and model", 2.0),
        Column("Serial", 1.3),
        Column("Closed kN", 0.8, Align.RIGHT),
        Column("Cross kN", 0.8, Align.RIGHT),
        Column("Open kN", 0.8, Align.RIGHT),
        Column("Marks", 2.2),
        Column("Decision", 1.2),
    )
    rows = tuple(
        (
            line.id, line.name, line.serial, line.closed_kN, line.cross_kN, line.open_kN,
            line.marks, line.decision,
        )
        for line in lines
    )  # fmt: skip
    strong = frozenset(index for index, line in enumerate(lines) if line.differences)
    return Table("Connectors", columns, rows, empty="Nothing arrived.", strong=strong)

"""Reports to test with: one of each kind, and a reader of printed pages."""

from __future__ import annotations

import io
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from stampreader.paper import A4
from stampreader.report import (
    Card,
    Delivery,
    Document,
    DueLine,
    Evidence,
    FigureLine,
    HistoryLine,
    InspectedLine,
    InspectionDay,
    InspectionLine,
    KitLine,
    KitList,
    ListLine,
    MarginLine,
    OrderLine,
    Printing,
    ReadLine,
    card_document,
    delivery_document,
    due_document,
    inspection_document,
    kit_document,
    register_document,
)

DAY = date(2026, 11, 20)
PRINTED_AT = datetime(2026, 11, 25, 14, 3, tzinfo=UTC)


class Pages:
    """A PDF read back by PDFium: its texts and its pages as pictures."""

    def __init__(self, data: bytes) -> None:
        """Open the file."""
        self.pdf = pypdfium2.PdfDocument(data)

    def __len__(self) -> int:
        """Number of pages."""
        return len(self.pdf)

    def text(self, number: int) -> str:
        """Text of a page, one space between words."""
        found = self.pdf[number].get_textpage().get_text_bounded()
        # PDFium gives a hyphen at a line's end as \x02
        return " ".join(found.replace("\u00a0", " ").replace("\x02", "-").split())

    @property
    def all_text(self) -> str:
        """Text of all pages."""
        return " ".join(self.text(number) for number in range(len(self)))

    def picture(self, number: int, dpi: float = 60) -> np.ndarray:
        """A page as grey pixels `(H, W) uint8`."""
        page = self.pdf[number].render(scale=dpi / 72, grayscale=True)
        return np.asarray(page.to_numpy()).squeeze()


@pytest.fixture(scope="session")
def read_pdf() -> Callable[[bytes], Pages]:
    """Opens a PDF."""
    return Pages


@pytest.fixture(scope="session")
def printing() -> Printing:
    """Team, time and paper."""
    return Printing("Northface Team", PRINTED_AT, A4, "register state k7f2-1042")


def picture_bytes(width: int = 320, height: int = 90, kind: str = "PNG") -> bytes:
    """A small evidence picture."""
    out = io.BytesIO()
    Image.linear_gradient("L").resize((width, height)).save(out, kind)
    return out.getvalue()


@pytest.fixture(scope="session")
def evidence_png() -> bytes:
    """A small evidence picture."""
    return picture_bytes()


@pytest.fixture(scope="session")
def full_card() -> Card:
    """A record card with every field filled."""
    return Card(
        id="NF-0042",
        state="in service",
        maker="Felsnase",
        model="Oval Lock",
        shape="oval",
        gate="screw sleeve",
        material="aluminium alloy",
        serial="FN 2231 0042",
        batch="B 2231",
        made_on="2025-06",
        delivery="2026-10 autumn",
        in_service_on=date(2026, 10, 12),
        place="Vehicle 2, red bag",
        next_due=date(2027, 10, 12),
        figures=(
            FigureLine("closed", Decimal("27"), "confirmed by A. Berg"),
            FigureLine("cross", Decimal("8.5"), "confirmed by A. Berg"),
        ),
        marks=("CE 9123", "EN 362:2004/B"),
        findings=("EN 362 asks for 20 kN closed: met.",),
        warnings=("Carries no third-party mark.",),
        evidence=(
            Evidence(
                picture_bytes(), "27 kN closed", "IMG_1.jpg", "3f" * 32, "2026-10-02", "net 1"
            ),
            Evidence(picture_bytes(90, 320, "JPEG"), "8.5 kN cross", "IMG_2.jpg", "9a" * 32),
        ),
        history=(HistoryLine(DAY, "moved", "A. Berg", "to Vehicle 2", "k7f2-9"),),
        inspections=(InspectionLine(DAY, "L. Okafor", "pass", "groove 0.3 mm"),),
        margins=(
            MarginLine(
                "closed", Decimal(27), Decimal(2), Decimal("13.50"), Decimal("2.70"), "allowed"
            ),
            MarginLine("open", None, Decimal(2), None, None, "unknown, not allowed"),
        ),
        ratio=Decimal(10),
    )


def list_lines(count: int) -> list[ListLine]:
    """Rows of a register."""
    return [
        ListLine(
            f"NF-{number:04d}", "Felsnase Oval Lock", f"FN{number}", "B1", Decimal(27), Decimal(8),
            None, ("CE 9123", "EN 362:2004/B"), "in service", "Store", DAY + timedelta(number),
        )
        for number in range(1, count + 1)
    ]  # fmt: skip


def read_lines(count: int) -> tuple[ReadLine, ...]:
    """Rows of a delivery; the third differs, the last waits."""
    return tuple(
        ReadLine(
            "" if number == count else f"NF-{number:04d}", "Felsnase Oval Lock", f"FN{number}",
            Decimal(22 if number == 3 else 27), Decimal(8), Decimal(7), ("CE 9123",),
            "waiting" if number == count else "confirmed",
            ("closed: ordered 27, arrived 22",) if number == 3 else (),
            picture_bytes() if number == 3 else None,
        )
        for number in range(1, count + 1)
    )  # fmt: skip


@pytest.fixture(scope="session")
def delivery() -> Delivery:
    """A delivery that is one short and has one odd connector."""
    return Delivery(
        "2026-10 autumn", DAY, "A. Berg",
        (OrderLine("Felsnase Oval Lock", 9, 8, "27/8/7", ("CE 9123",)),),
        read_lines(8), ("count: ordered 9, arrived 8",), ("EN 362 asks for more than 22.",),
    )  # fmt: skip


@pytest.fixture(scope="session")
def inspection_day() -> InspectionDay:
    """Five inspections, one with a fault."""
    return InspectionDay(
        DAY,
        tuple(
            InspectedLine(
                f"NF-{number:04d}", "fail" if number == 3 else "pass", "Felsnase Oval", "Store",
                "L. Okafor", ("body: crack at the rivet",) if number == 3 else (),
                ("scratched",) if number == 1 else (), ("groove 0.8 mm",) if number == 3 else (),
                "quarantined" if number == 3 else "", None if number == 3 else DAY,
                picture_bytes() if number == 3 else None,
            )
            for number in range(1, 6)
        ),
        ("body: cracks, deformation", "gate: closes by itself"),
    )  # fmt: skip


@pytest.fixture(scope="session")
def documents(full_card, delivery, inspection_day, printing) -> dict[str, Document]:
    """One document of each kind."""
    due = [
        DueLine(f"NF-{n:04d}", DAY + timedelta(n - 3), "Oval", "Store", None, "") for n in range(9)
    ]
    kit = KitList(
        "Call-out kit", "belay on a Munter hitch", "2 people, 2 kN", Decimal(10),
        (KitLine("NF-0001", "Kantholz Pear", "Store", Decimal(24), Decimal(8), Decimal(7), "open",
                 Decimal("3.50"), "not allowed", ("no third-party mark",), DAY),),
        (("NF-0009", "overdue since 2026-10-01"),),
    )  # fmt: skip
    return {
        "card": card_document(full_card, printing),
        "register": register_document(list_lines(40), printing, "in service"),
        "due": due_document(due, printing, DAY, 30),
        "delivery": delivery_document(delivery, printing),
        "inspection": inspection_document(inspection_day, printing),
        "kit": kit_document(kit, printing),
    }


@pytest.fixture(scope="session")
def make_lines() -> Callable[[int], list[ListLine]]:
    """Rows of a register, as many as asked for."""
    return list_lines

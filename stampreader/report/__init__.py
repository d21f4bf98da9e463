"""Reports: plain values in; pages to sign and file, tables and labels out.

Takes what the register, the margins and the standards say. Gives PDF and HTML from one document,
CSV and XLSX of its tables, label sheets and photo sheets. The time of printing is passed in: the
same input gives the same bytes.
"""

from __future__ import annotations

from stampreader.report.card import (
    Card,
    Evidence,
    FigureLine,
    HistoryLine,
    InspectionLine,
    MarginLine,
    card_document,
)
from stampreader.report.delivery import Delivery, OrderLine, ReadLine, delivery_document
from stampreader.report.inspection import InspectedLine, InspectionDay, inspection_document
from stampreader.report.kit import KitLine, KitList, kit_document
from stampreader.report.lists import DueLine, ListLine, due_document, register_document
from stampreader.report.page import Document, Printing
from stampreader.report.spreadsheet import document_csv, document_xlsx, safe_cell

__all__ = [
    "Card",
    "Delivery",
    "Document",
    "DueLine",
    "Evidence",
    "FigureLine",
    "HistoryLine",
    "InspectedLine",
    "InspectionDay",
    "InspectionLine",
    "KitLine",
    "KitList",
    "ListLine",
    "MarginLine",
    "OrderLine",
    "Printing",
    "ReadLine",
    "card_document",
    "delivery_document",
    "document_csv",
    "document_xlsx",
    "due_document",
    "inspection_document",
    "kit_document",
    "register_document",
    "safe_cell",
]

"""Documents as CSV and XLSX: the tables only, numbers and dates kept as such.

A text that a spreadsheet would take for a formula is written so that it stays a text.
"""

from __future__ import annotations

import csv
import io
import re
import zipfile
from datetime import UTC, date, datetime
from decimal import Decimal

from stampreader.errors import UsageError
from stampreader.register import safe_cell as defused
from stampreader.report.page import Align, Cell, Document, Facts, Table

_NO_INK = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
MOST_LETTERS = 32_000
"""A cell of a workbook holds 32,767 characters; longer texts are cut there with a mark."""


def safe_cell(value: Cell) -> str:
    """A value as CSV text that no spreadsheet program takes for a formula.

    Texts that begin like a formula get an apostrophe in front, as OWASP advises against CSV
    injection; numbers and dates are written plainly.

    Example: `safe_cell("=1+1")` is `'=1+1`; `safe_cell(Decimal("-3"))` is `-3`.
    """
    if value is None:
        return ""
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, tuple):
        value = "; ".join(value)
    if isinstance(value, datetime | date):
        return value.isoformat()
    if not isinstance(value, str):
        return str(value)
    return defused(_NO_INK.sub("", value))


def document_csv(document: Document) -> str:
    """The document's tables as CSV: the largest where there are several kinds of row.

    Tables with the same columns are written as one, with a first column naming the table.

    Raises:
        UsageError: the document is a card, not a list.
    """
    tables = document.tables
    headings = {tuple(column.title for column in table.columns) for table in tables}
    if len(headings) != 1:
        raise UsageError(
            f"{document.kind.lower()} holds several different tables, a CSV file only one",
            remedy="Write it as .xlsx, .pdf or .html.",
        )
    named = len(tables) > 1
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([*(["Table"] if named else []), *headings.pop()])
    for table in tables:
        for row in table.rows:
            writer.writerow([*([table.name] if named else []), *map(safe_cell, row)])
    return out.getvalue()


def document_xlsx(document: Document) -> bytes:
    """The document's facts and tables as a workbook, one sheet each; same input, same bytes."""
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.active)
    facts = [pair for block in document.blocks if isinstance(block, Facts) for pair in block.pairs]
    printing = document.printing
    about: list[tuple[str, Cell]] = [
        ("Report", f"{document.kind}: {document.title}"),
        ("Team", printing.team),
        ("Printed", printing.printed_at.isoformat(timespec="minutes")),
        *facts,
    ]
    _fill(book.create_sheet("About"), ("Fact", "Value"), about, (24, 60))
    names = {"About"}
    for table in document.tables:
        name = _sheet_name(table.name, names)
        headings = tuple(column.title for column in table.columns)
        widths = [max(9, round(column.share * 11)) for column in table.columns]
        sheet = book.create_sheet(name)
        _fill(sheet, headings, table.rows, widths)
        _align(sheet, table)
    packed = io.BytesIO()
    book.save(packed)
    return _settled(packed.getvalue(), printing.printed_at)


def _fill(sheet, headings, rows, widths) -> None:  # type: ignore[no-untyped-def]
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    for number, heading in enumerate(headings, start=1):
        cell = sheet.cell(1, number, heading)
        cell.font = Font(bold=True)
        sheet.column_dimensions[get_column_letter(number)].width = widths[number - 1]
    for line, row in enumerate(rows, start=2):
        for number, value in enumerate(row, start=1):
            _write(sheet.cell(line, number), value)
            sheet.cell(line, number).alignment = Alignment(vertical="top", wrap_text=True)
    sheet.freeze_panes = "A2"


def _write(cell, value: Cell) -> None:  # type: ignore[no-untyped-def]
    """Write one value; a text is always a text, never a formula."""
    if value is None:
        return
    if isinstance(value, tuple):
        value = "; ".join(value)
    if isinstance(value, str):
        text = _NO_INK.sub("", value)
        if len(text) > MOST_LETTERS:
            text = text[:MOST_LETTERS] + " … (cut)"
        cell.value = text
        cell.data_type = "s"
        cell.quotePrefix = defused(text) != text
        return
    cell.value = value
    if isinstance(value, date) and not isinstance(value, datetime):
        cell.number_format = "yyyy-mm-dd"


def _align(sheet, table: Table) -> None:  # type: ignore[no-untyped-def]
    from openpyxl.styles import Alignment

    for number, column in enumerate(table.columns, start=1):
        if column.align is Align.RIGHT:
            for line in range(1, len(table.rows) + 2):
                sheet.cell(line, number).alignment = Alignment(horizontal="right", vertical="top")


def _sheet_name(wanted: str, taken: set[str]) -> str:
    """A sheet name a workbook accepts, not used yet."""
    base = re.sub(r"[\[\]:*?/\\']", " ", wanted)[:28].strip() or "Table"
    name, number = base, 1
    while name in taken:
        number += 1
        name = f"{base} {number}"
    taken.add(name)
    return name


def _settled(packed: bytes, printed_at: datetime) -> bytes:
    """The workbook with every date inside set to the time of printing."""
    moment = printed_at.astimezone(UTC)
    stamp = f"{moment:%Y-%m-%dT%H:%M:%SZ}".encode("ascii")
    day = max(moment, datetime(1980, 1, 1, tzinfo=UTC)).timetuple()[:6]
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(packed)) as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for entry in old.infolist():
            data = old.read(entry)
            if entry.filename == "docProps/core.xml":
                data = re.sub(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", stamp, data)
            settled = zipfile.ZipInfo(entry.filename, day)
            settled.compress_type = zipfile.ZIP_DEFLATED
            new.writestr(settled, data)
    return out.getvalue()

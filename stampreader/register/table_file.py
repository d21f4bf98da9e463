"""A spreadsheet's file (CSV or XLSX) as headings and rows, each with its number in the file."""

from __future__ import annotations

import csv
import hashlib
import io
import re
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

from stampreader.errors import ImportRefused, UsageError

MOST_BYTES = 200 * 2**20
MOST_UNPACKED = 2**28
MOST_ROWS = 200_000
MOST_COLUMNS = 500
_MERGED = re.compile(rb"mergeCell\b[^>]*\bref=[\"']([A-Z]{1,3})(\d{1,7}):([A-Z]{1,3})(\d{1,7})")


@dataclass(frozen=True, slots=True)
class Spoilt:
    """A cell that cannot be taken as it is; the reason is shown with its row."""

    reason: str


Value = str | int | Decimal | date | Spoilt | None
"""A cell: text, number, day, or nothing."""


@dataclass(frozen=True, slots=True)
class Row:
    """A row with its number as a spreadsheet shows it."""

    number: int
    cells: tuple[Value, ...]

    @property
    def empty(self) -> bool:
        """Whether nothing stands in it."""
        return all(cell is None or cell == "" for cell in self.cells)


@dataclass(frozen=True, slots=True)
class TableFile:
    """A spreadsheet read from a file.

    Attributes:
        name: of the file.
        sha256: of its bytes.
        headings: of the columns, as written.
        rows: those below the headings that hold anything.
    """

    name: str
    sha256: str
    headings: tuple[str, ...]
    rows: tuple[Row, ...]


def read_table(
    path: Path, *, sheet: str = "", heading_row: int = 1, encoding: str = ""
) -> TableFile:
    """Read a CSV or XLSX file.

    Args:
        path: the file; its ending says which of the two it is.
        sheet: name of the sheet of a workbook; its first if not given.
        heading_row: number of the row that holds the headings.
        encoding: of a CSV file; UTF-8 if not given.

    Raises:
        ImportRefused: it cannot be read, or is not understood; the row is named where one is.
        UsageError: another kind of file, or a sheet that is not there.
    """
    data = _bytes_of(path)
    if path.suffix.lower() == ".csv":
        rows = _csv_rows(data, encoding or "utf-8-sig")
    elif path.suffix.lower() in (".xlsx", ".xlsm"):
        rows = _xlsx_rows(data, sheet)
    else:
        raise UsageError(
            f"{path.name} is neither .csv nor .xlsx",
            remedy="Save the sheet as XLSX or as CSV in UTF-8.",
        )
    return _with_headings(path, data, rows, heading_row)


def _bytes_of(path: Path) -> bytes:
    try:
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise ImportRefused(
                f"{path.name} has {size // 2**20} MB, more than {MOST_BYTES // 2**20} MB"
            )
        return path.read_bytes()
    except OSError as error:
        raise ImportRefused(
            f"cannot open {path}: {error.strerror or error}", remedy="Check its name and place."
        ) from error


def _with_headings(path: Path, data: bytes, rows: Iterator[Row], heading_row: int) -> TableFile:
    headings: tuple[str, ...] = ()
    kept: list[Row] = []
    for row in rows:
        if row.number == heading_row:
            headings = tuple("" if cell is None else str(cell).strip() for cell in row.cells)
        elif row.number > heading_row and not row.empty:
            kept.append(row)
        if len(kept) > MOST_ROWS:
            raise ImportRefused(f"{path.name} has more than {MOST_ROWS} rows")
    if not any(headings):
        raise ImportRefused(
            f"row {heading_row} of {path.name} holds no headings",
            remedy="Say with --heading-row in which row they stand.",
        )
    return TableFile(path.name, hashlib.sha256(data).hexdigest(), headings, tuple(kept))


def _csv_rows(data: bytes, encoding: str) -> Iterator[Row]:
    try:
        text = data.decode(encoding)
    except (UnicodeDecodeError, LookupError) as error:
        raise ImportRefused(
            f"the file is not text in {encoding.replace('-sig', '')}: {error}",
            remedy="Save it as CSV in UTF-8, or say with --encoding how it was saved.",
        ) from error
    if "\x00" in text:
        raise ImportRefused("the file is no CSV text", remedy="Save the sheet as CSV in UTF-8.")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text), strict=True)
    try:
        for cells in reader:
            # the number of the line a row ends on is what an editor shows
            yield Row(reader.line_num, tuple(_text(cell) for cell in cells))
    except csv.Error as error:
        raise ImportRefused(f"row {reader.line_num}: {error}") from error


def _delimiter(text: str) -> str:
    """The sign between cells: what the first line has most of, outside of quotes."""
    head = text.splitlines()[0] if text else ""
    bare = "".join(head.split('"')[::2])
    return max((",", ";", "\t"), key=bare.count)


def _text(cell: str) -> str | None:
    """A cell of text; an apostrophe put in front against formulas is taken off again."""
    text = cell.strip()
    if len(text) > 1 and text[0] == "'" and text[1] in "=+-@|＝＋－＠":
        text = text[1:]
    return text or None


def _xlsx_rows(data: bytes, sheet: str) -> Iterator[Row]:
    shown, typed = _sheets(data, sheet)
    merged = _merged(typed)
    for number, (values, sources) in enumerate(
        zip(shown.iter_rows(), typed.iter_rows(), strict=True), 1
    ):
        if len(values) > MOST_COLUMNS:
            raise ImportRefused(f"the sheet has more than {MOST_COLUMNS} columns")
        yield Row(
            number,
            tuple(
                merged.get((number, column)) or _xlsx_value(value, source)
                for column, (value, source) in enumerate(zip(values, sources, strict=True), 1)
            ),
        )


def _sheets(data: bytes, sheet: str) -> tuple[Any, Any]:
    """The sheet with the values a spreadsheet program worked out, and with what was typed."""
    import openpyxl

    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            if sum(entry.file_size for entry in packed.infolist()) > MOST_UNPACKED:
                raise ImportRefused("the workbook is larger than any list of connectors")
            for entry in packed.infolist():
                _refuse_wide_merges(packed.read(entry))
        shown = openpyxl.load_workbook(io.BytesIO(data), data_only=True)
        typed = openpyxl.load_workbook(io.BytesIO(data))
    except ImportRefused:
        raise
    except Exception as error:  # damaged workbooks raise almost anything
        raise ImportRefused(
            "the file is no workbook, or is damaged", remedy="Save it again as XLSX."
        ) from error
    if not shown.sheetnames:
        raise ImportRefused("the workbook holds no sheet", remedy="Save it again as XLSX.")
    name = sheet or shown.sheetnames[0]
    if name not in shown.sheetnames:
        raise UsageError(
            f"there is no sheet {name}", remedy=f"Sheets: {', '.join(shown.sheetnames)}."
        )
    if not hasattr(shown[name], "iter_rows"):
        raise UsageError(f"{name} is a chart, not a sheet", remedy="Name a sheet with --sheet.")
    return shown[name], typed[name]


def _refuse_wide_merges(part: bytes) -> None:
    """Refuse cells merged over whole columns before they are unfolded one by one, for ever."""
    cells = 0
    for left, top, right, bottom in _MERGED.findall(part):
        width = 1 + abs(column_index(right.decode()) - column_index(left.decode()))
        cells += width * (1 + abs(int(bottom) - int(top)))
    if cells > MOST_ROWS:
        raise ImportRefused(
            f"{cells} cells are merged with others", remedy="Split them, and fill each."
        )


def _merged(sheet: Any) -> dict[tuple[int, int], Spoilt]:
    """Cells that are merged: which of them a value belongs to cannot be known."""
    found = {}
    for span in sheet.merged_cells.ranges:
        spoilt = Spoilt(f"cells {span.coord} are merged: split them and fill each")
        for row in range(span.min_row, span.max_row + 1):
            for column in range(span.min_col, span.max_col + 1):
                found[row, column] = spoilt
    return found


def _xlsx_value(cell: Any, source: Any) -> Value:
    value = cell.value
    if source.data_type == "f" and value is None:
        return Spoilt("holds a formula that was never worked out: open the file and save it again")
    if cell.data_type == "e":
        return Spoilt(f"holds the error {value}")
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return _number(Decimal(repr(value)))
    if isinstance(value, int):
        return _padded(value, cell.number_format)
    if isinstance(value, datetime):
        return value.date()
    if value is None or isinstance(value, date):
        return value
    return _text(str(value))


def _number(value: Decimal) -> int | Decimal:
    return int(value) if value == value.to_integral_value() and abs(value) < 10**15 else value


def _padded(value: int, shown_as: str) -> int | str:
    """A whole number with the leading zeros it is shown with, such as serial 0042."""
    if shown_as and set(shown_as) == {"0"} and len(shown_as) > 1 and value >= 0:
        return f"{value:0{len(shown_as)}d}"
    return value


def column_index(letters: str) -> int:
    """Number of a column from 0: A is 0, AB is 27."""
    number = 0
    for letter in letters:
        number = 26 * number + ord(letter) - 64
    return number - 1


def column_letters(index: int) -> str:
    """Name of a column as a spreadsheet shows it: 0 is A, 26 is AA."""
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def heading_at(headings: Sequence[str], index: int) -> str:
    """The heading of a column, or its letters where it has none."""
    named = headings[index] if index < len(headings) else ""
    return named or f"column {column_letters(index)}"

"""Reports as CSV and XLSX: numbers stay numbers, nothing becomes a formula."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stampreader.errors import UsageError
from stampreader.report import (
    ListLine,
    Printing,
    document_csv,
    document_xlsx,
    register_document,
    safe_cell,
)

# The characters OWASP names in "CSV Injection": = + - @ tab and carriage return, and their
# full-width forms.
DANGEROUS = ["=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠", "  ="]


@pytest.mark.parametrize("start", DANGEROUS, ids=repr)
def test_text_that_looks_like_a_formula_is_defused(start):
    """A text beginning with a character OWASP names gets an apostrophe in front."""
    assert safe_cell(f"{start}cmd|'/c calc'!A1").startswith("'")


@pytest.mark.parametrize(
    ("value", "written"),
    [
        (Decimal("-3.50"), "-3.50"),
        (-4, "-4"),
        (Decimal("1E+2"), "100"),
        (date(2026, 11, 25), "2026-11-25"),
        (None, ""),
        ("NF-0042", "NF-0042"),
        (("CE 9123", "EN 362/B"), "CE 9123; EN 362/B"),
        (("=1", "x"), "'=1; x"),
        ("a\x00b", "ab"),
    ],
    ids=repr,
)
def test_values_are_written_plainly(value, written):
    """Numbers, negative ones too, and dates are not touched."""
    assert written == safe_cell(value)


@given(st.text())
def test_no_text_becomes_a_formula(text):
    """Whatever is typed, what follows leading spaces is never a formula character."""
    assert not safe_cell(text).lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r"))


def test_csv_reads_back(documents, make_lines, printing):
    """The register as CSV: a heading and a row a connector, read by Python's own reader."""
    text = document_csv(register_document(make_lines(3), printing))
    rows = list(csv.reader(io.StringIO(text)))
    assert rows[0][:3] == ["Id", "Maker and model", "Serial"]
    assert rows[1] == [
        "NF-0001", "Felsnase Oval Lock", "FN1", "B1", "27", "8", "", "CE 9123; EN 362:2004/B",
        "in service", "Store", "2026-11-21",
    ]  # fmt: skip
    assert len(rows) == 4


def test_csv_of_two_like_tables_names_them(documents):
    """The due list is one CSV table whose first column says overdue or due soon."""
    rows = list(csv.reader(io.StringIO(document_csv(documents["due"]))))
    assert "Table" == rows[0][0]
    assert {"Overdue", "Due soon"} == {row[0] for row in rows[1:]}


def test_csv_of_a_card_is_refused(documents):
    """A record card is no table; the refusal names what to use instead."""
    with pytest.raises(UsageError) as caught:
        document_csv(documents["card"])
    assert ".xlsx" in caught.value.remedy


def test_xlsx_keeps_kinds(make_lines, printing):
    """Strengths are numbers, dates are dates, read by openpyxl."""
    book = openpyxl.load_workbook(
        io.BytesIO(document_xlsx(register_document(make_lines(2), printing)))
    )
    assert ["About", "Register"] == book.sheetnames
    row = [cell.value for cell in book["Register"][2]]
    assert row[0] == "NF-0001"
    assert row[4] == 27
    assert row[6] is None
    assert row[10] == datetime(2026, 11, 21)
    assert book["Register"].freeze_panes == "A2"


@pytest.mark.parametrize("start", DANGEROUS, ids=repr)
def test_xlsx_holds_no_formula(start, printing):
    """A name that looks like a formula is stored as text."""
    document = register_document([ListLine("NF-1", f"{start}1+1")], printing)
    book = openpyxl.load_workbook(io.BytesIO(document_xlsx(document)))
    cell = book["Register"]["B2"]
    assert cell.data_type == "s"
    assert cell.value == f"{start}1+1".replace("\r", "\n")


def test_xlsx_sheet_for_every_table(documents):
    """Card: facts, margins, inspections and history each have their sheet."""
    book = openpyxl.load_workbook(io.BytesIO(document_xlsx(documents["card"])))
    assert ["About", "Margins", "Inspections", "History"] == book.sheetnames
    about = {row[0].value: row[1].value for row in book["About"].iter_rows(min_row=2)}
    assert "Felsnase" == about["Maker"]


def test_xlsx_is_the_same_twice(documents):
    """Same document, same bytes, although a workbook records its time of writing."""
    assert document_xlsx(documents["kit"]) == document_xlsx(documents["kit"])


def test_xlsx_takes_odd_and_huge_texts(printing):
    """Control characters and 100,000 letters are written as far as a workbook holds them."""
    lines = [ListLine("NF-1", "\x00\x0b\ud800" + "A" * 100_000, place="\ufffe")]
    book = openpyxl.load_workbook(
        io.BytesIO(document_xlsx(register_document(lines, replace(printing, team="\x01"))))
    )
    assert book["Register"]["B2"].value.endswith("… (cut)")


def test_printing_before_1980_is_no_obstacle():
    """ZIP files cannot hold dates before 1980; a wrong clock must not stop a report."""
    printing = Printing("Team", datetime(1970, 1, 1, tzinfo=UTC))
    assert document_xlsx(register_document([], printing)).startswith(b"PK")

"""A team's old spreadsheet into the register: mapping, dry run, refusals with the row number."""

from __future__ import annotations

import io
from datetime import UTC, date, datetime
from decimal import Decimal

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl.styles import numbers

from stampreader.errors import ImportRefused, UsageError
from stampreader.register import (
    DayOrder,
    Kind,
    Life,
    Verdict,
    add_by_hand,
    check_register,
    enter_rows,
    find_connector,
    list_connectors,
    map_columns,
    plan_rows,
    read_table,
)
from stampreader.register.columns import plain_heading
from stampreader.register.table_file import column_letters

NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)
HEAD = ["Label", "Manufacturer", "Model", "Serial No", "Closed [kN]", "Cross", "Gate open"]


def _marks(text):
    """Normal form for the tests: capitals; anything without a digit is no mark."""
    if not any(c.isdigit() for c in text):
        raise UsageError(f"'{text}' is not a mark of a standard")
    return [text.upper()]


@pytest.fixture
def csv_file(tmp_path):
    """Writes a CSV file."""

    def write(text, encoding="utf-8", name="gear.csv"):
        path = tmp_path / name
        path.write_bytes(text.encode(encoding) if isinstance(text, str) else text)
        return path

    return write


@pytest.fixture
def xlsx_file(tmp_path):
    """Writes a workbook; `edit` may do anything to its sheet."""

    def write(rows, edit=None, name="gear.xlsx"):
        book = openpyxl.Workbook()
        sheet = book.active
        for row in rows:
            sheet.append(row)
        if edit:
            edit(sheet)
        path = tmp_path / name
        book.save(path)
        return path

    return write


def _plans(register, path, maps=(), days=DayOrder.ISO, **options):
    table = read_table(path, **options)
    columns = map_columns(table, maps)
    return table, plan_rows(register, table, columns, marks=_marks, at=NOW, days=days)


def _enter(register, path, maps=(), **options):
    table, plans = _plans(register, path, maps, **options)
    return enter_rows(register, table, plans, who="Ada", at=NOW)


def _only(register, path, **options):
    _, (plan,) = _plans(register, path, **options)
    return plan


WHOLE = (
    "Label;Manufacturer;Model;Serial No;Closed [kN];Cross;Gate open;Standards;Location;First use;"
    "Last inspection;Retired;Retirement reason;Made\n"
    "A-1;Felsnase;Oval Lock;0042;27;8,5;7;CE 9123, EN 362:2004/B;Kit 1;2020-05-01;1.3.2025;;;2019-11\n"
    ";Kantholz;Pear;77;24;8;-;;;;;2025-01-01;worn;\n"
)


def test_a_whole_sheet_becomes_entries_with_their_life(register, csv_file):
    """Fields, figures, marks, place, days and retirement of two rows."""
    events = _enter(register, csv_file(WHOLE))
    first, second = (find_connector(register, event.connector) for event in events)
    assert ("A-1", "Felsnase", "Oval Lock", "0042", "2019-11") == (
        first.id, first.maker, first.model, first.serial, first.made_on,
    )  # fmt: skip
    assert (Decimal(27), Decimal("8.5"), Decimal(7)) == (
        first.closed_kN, first.cross_kN, first.open_kN,
    )  # fmt: skip
    assert ("CE 9123", "EN 362:2004/B") == first.marks
    assert (Life.IN_SERVICE, "Kit 1", "2020-05-01", "2025-03-01") == (
        first.life, first.place, first.in_service_on, first.inspected_on,
    )  # fmt: skip
    assert first.by_hand
    assert ("C-0001", Life.RETIRED, "worn", "2025-01-01") == (
        second.id, second.life, second.life_reason, second.retired_on,
    )  # fmt: skip
    assert second.open_kN is None
    assert [] == list(check_register(register))


def test_each_entry_says_where_it_came_from(register, csv_file):
    """File, its content and the row stand in the history."""
    path = csv_file(WHOLE)
    first, second = _enter(register, path)
    assert ("gear.csv", 2, 3) == (first.body["source"], first.body["row"], second.body["row"])
    assert read_table(path).sha256 == first.body["file"]
    inspected = [e for e in register.history(first.connector) if e.kind is Kind.INSPECTED]
    assert "taken over from gear.csv, row 2" == inspected[0].body["note"]


def test_the_same_file_again_enters_nothing(register, csv_file):
    """Rows imported before are known, with or without an id."""
    path = csv_file(WHOLE)
    _enter(register, path)
    _, plans = _plans(register, path)
    assert [Verdict.KNOWN, Verdict.KNOWN] == [plan.verdict for plan in plans]
    assert [] == _enter(register, path)
    assert 2 == len(list_connectors(register))


def test_planning_stores_nothing(register, csv_file):
    """A dry run leaves the register empty."""
    _, plans = _plans(register, csv_file(WHOLE))
    assert [2, 3] == [plan.number for plan in plans]
    assert [] == register.rows("SELECT 1 FROM events")


def test_one_refused_row_stops_all(register, csv_file):
    """All or nothing: with one bad row none is entered, and its number is named."""
    with pytest.raises(ImportRefused, match="row 3: Closed"):
        _enter(register, csv_file("Label,Closed\nA-1,27\nA-2,many\n"))
    assert [] == register.rows("SELECT 1 FROM events")


CELLS = {
    "text in a number column": ("Closed", "many", "Closed: 'many' is not a strength"),
    "negative": ("Closed", "-3", "not a strength"),
    "zero": ("Closed", "0", "not a strength"),
    "three decimals": ("Closed", "22.241", "not a strength"),
    "huge": ("Closed", "2700", "not a strength"),
    "kg": ("Closed", "2700 kg", "is in kg; give the figure as stamped in kN"),
    "lbf": ("Closed", "9000 lbf", "is in lbf"),
    "two figures of three": ("Figures", "27/8", "not three figures"),
    "no mark": ("Marks", "CE 9123, nonsense", "Marks: 'nonsense' is not a mark"),
    "no date": ("First use", "last spring", "is not a day"),
    "no such day": ("First use", "2025-02-30", "there is no day"),
    "slashes": ("First use", "5/6/2024", "--dates dmy or mdy"),
    "future": ("First use", "2027-01-01", "lies in the future"),
    "future manufacture": ("Made", "2031", "lies in the future"),
    "no date of manufacture": ("Made", "old", "Made: "),
    "id": ("Label", "<b>", "cannot be an id"),
    "long id": ("Label", "A" * 41, "cannot be an id"),
    "long text": ("Maker", "A" * 300, "too long"),
    "control characters": ("Maker", "Fels\x07nase", "unprintable"),
    "reason without day": ("Retirement reason", "worn", "no day it was retired"),
    "empty enough": ("Serial", "4", "neither id, maker, model nor a strength"),
}


@pytest.mark.parametrize(("heading", "cell", "said"), CELLS.values(), ids=CELLS)
def test_what_cannot_be_understood_is_refused(register, csv_file, heading, cell, said):
    """The row is refused with its number, and the reason names the column or the fault."""
    plan = _only(register, csv_file(f'{heading}\n"{cell}"\n'))
    assert (2, Verdict.REFUSE) == (plan.number, plan.verdict)
    assert said in "; ".join(plan.reasons)


GOOD = {
    "27 kN": ("Closed", "27 kN", {"closed_kN": "27"}),
    "comma": ("Closed", "24,5", {"closed_kN": "24.5"}),
    "figures": ("Figures", "27 / 8 / - kN", {"closed_kN": "27", "cross_kN": "8"}),
    "not stamped": ("Closed", "-", {"closed_kN": None}),
    "year": ("Made", "2024", {"made_on": "2024"}),
    "month": ("Made", "05/2024", {"made_on": "2024-05"}),
    "dots": ("Made", "31.5.2024", {"made_on": "2024-05-31"}),
    "marks": ("Marks", "ce 9123; en 362", {"marks": ["CE 9123", "EN 362"]}),
    "defused formula": ("Maker", "'=Fels", {"maker": "=Fels"}),
    "quoted line break": ("Maker", "Fels\nnase", {"maker": "Fels nase"}),
}


@pytest.mark.parametrize(("heading", "cell", "fields"), GOOD.values(), ids=GOOD)
def test_what_people_write_is_understood(register, csv_file, heading, cell, fields):
    """Units, decimal commas, dates and lists as people write them."""
    plan = _only(register, csv_file(f'Label,{heading}\nA-1,"{cell}"\n'))
    assert () == plan.reasons
    assert {"id": "A-1", **fields} == dict(plan.fields)


@pytest.mark.parametrize(
    ("order", "day"), [(DayOrder.DAY_FIRST, "2024-06-05"), (DayOrder.MONTH_FIRST, "2024-05-06")]
)
def test_slashes_are_read_as_said(register, csv_file, order, day):
    """5/6/2024 is 5 June where the day stands first, 6 May where the month does."""
    plan = _only(register, csv_file("Label,First use\nA-1,5/6/2024\n"), days=order)
    assert day == plan.steps["in_service_on"]


def test_days_that_cannot_follow_each_other_are_refused(register, csv_file):
    """In use before it was made, inspected after it was retired."""
    plan = _only(
        register,
        csv_file(
            "Label,Made,First use,Last inspection,Retired\nA-1,2020-05,2020-04-30,2025-02-01,2025-01-01\n"
        ),
    )
    assert "in_service_on 2020-04-30 lies before it was made (2020-05)" in plan.reasons
    assert "inspected_on 2025-02-01 lies after it was retired (2025-01-01)" in plan.reasons


def test_ids_and_serials_are_not_taken_twice(register, csv_file):
    """In the register, or twice in the file, whatever the letters' case."""
    add_by_hand(register, {"id": "A-1", "maker": "Felsnase", "serial": "9"}, who="Bo", at=NOW)
    _, plans = _plans(
        register,
        csv_file(
            "Label,Maker,Serial\na-1,Kantholz,1\nB-1,Kantholz,2\nb-1,Kantholz,3\n,felsnase,9\n,KANTHOLZ,2\n"
        ),
    )
    reasons = ["; ".join(plan.reasons) for plan in plans]
    assert "the id a-1 is taken by a connector of the register" == reasons[0]
    assert "" == reasons[1]
    assert "the id b-1 stands in row 3 too" == reasons[2]
    assert "felsnase serial 9 is A-1 of the register" == reasons[3]
    assert "KANTHOLZ serial 2 stands in row 3 too" == reasons[4]


def test_new_ids_pass_over_those_of_the_file(register, csv_file):
    """A row without an id does not get one that a later row brings."""
    events = _enter(register, csv_file("Label,Maker\n,Felsnase\nC-0001,Kantholz\n,Grube\n"))
    assert ["C-0002", "C-0001", "C-0003"] == [e.body["fields"]["id"] for e in events]


# -- headings -----------------------------------------------------------------------------------


def test_unknown_columns_must_be_spoken_for(csv_file):
    """A column nobody knows is never dropped silently."""
    table = read_table(csv_file("Label,Colour,\nA-1,red,x\n"))
    with pytest.raises(UsageError, match="columns not understood: Colour, column C") as caught:
        map_columns(table)
    assert "--map 'Colour=-'" in caught.value.remedy
    assert {0: "id", 1: "note"} == map_columns(table, ["Colour=note", "column C=-"])


@pytest.mark.parametrize(
    ("maps", "said"),
    [
        (["Colour"], "not HEADING=FIELD"),
        (["=note"], "not HEADING=FIELD"),
        (["Colour=hue"], "no field hue"),
        (["Weight=note"], "no column 'Weight'"),
        (["Colour=id"], "two columns are id"),
    ],
)
def test_wrong_mappings_are_refused(csv_file, maps, said):
    """A mapping that is none, names no column, or doubles a field."""
    table = read_table(csv_file("Label,Colour\nA-1,red\n"))
    with pytest.raises(UsageError, match=said):
        map_columns(table, maps)


def test_empty_columns_are_no_matter(csv_file):
    """Trailing empty columns, as spreadsheet programs write them, need no mapping."""
    table = read_table(csv_file("Label,Maker,,,\nA-1,Felsnase,,,\n,,,,\n"))
    assert {0: "id", 1: "maker"} == map_columns(table)
    assert [2] == [row.number for row in table.rows]


@given(st.integers(0, 18_000))
def test_column_letters_are_those_of_a_spreadsheet(index):
    """The same names as openpyxl gives its columns."""
    assert openpyxl.utils.get_column_letter(index + 1) == column_letters(index)


def test_headings_are_compared_plainly():
    """Signs, case and the unit in brackets do not matter."""
    assert {"gate open"} == {
        plain_heading(text) for text in ("Gate-open [kN]", "gate_open (kN)", " GATE OPEN kN ")
    }


# -- files --------------------------------------------------------------------------------------


@pytest.mark.parametrize("sign", [",", ";", "\t"])
def test_csv_of_any_country(csv_file, sign):
    """Commas, semicolons and tabs, with a byte order mark and Windows line ends."""
    text = (
        "\ufeff" + sign.join(("Label", "Maker")) + "\r\n" + sign.join(("A-1", '"Fels, nase; AG"'))
    )
    table = read_table(csv_file(text + "\r\n"))
    assert ("Label", "Maker") == table.headings
    assert ("A-1", "Fels, nase; AG") == table.rows[0].cells


def test_other_encodings_are_said_not_guessed(csv_file):
    """A file in Windows-1252 is refused with what to do, and read when it is said."""
    path = csv_file("Label,Maker\nA-1,Fürst\n", "cp1252")
    with pytest.raises(ImportRefused) as caught:
        read_table(path)
    assert "--encoding" in caught.value.remedy
    assert "Fürst" == read_table(path, encoding="cp1252").rows[0].cells[1]
    with pytest.raises(ImportRefused, match="not text in klingon"):
        read_table(path, encoding="klingon")


def test_rows_have_the_numbers_of_the_sheet(xlsx_file, csv_file):
    """Empty rows count, in both kinds of file, and so do lines inside quotes."""
    rows = [["Label"], ["A-1"], [None], ["A-2"]]
    assert [2, 4] == [row.number for row in read_table(xlsx_file(rows)).rows]
    assert [2, 4] == [row.number for row in read_table(csv_file("Label\nA-1\n\nA-2\n")).rows]


def test_headings_may_stand_lower(xlsx_file):
    """A title above the table is passed over when the row of the headings is said."""
    path = xlsx_file([["Our gear 2026"], [], ["Label", "Maker"], ["A-1", "Felsnase"]])
    table = read_table(path, heading_row=3)
    assert (("Label", "Maker"), 4) == (table.headings, table.rows[0].number)
    with pytest.raises(ImportRefused, match=r"row 2 of gear\.xlsx holds no headings"):
        read_table(path, heading_row=2)


def test_xlsx_kinds_of_cells(register, xlsx_file):
    """Numbers, days, leading zeros and a worked-out formula come over as they are shown."""

    def edit(sheet):
        sheet["B2"].number_format = "0000"
        sheet["D2"].number_format = numbers.FORMAT_DATE_DDMMYY

    path = xlsx_file(
        [["Label", "Serial", "Closed", "First use"], ["A-1", 42, 22.5, datetime(2024, 5, 31)]], edit
    )
    plan = _only(register, path)
    assert {"id": "A-1", "serial": "0042", "closed_kN": "22.5"} == dict(plan.fields)
    assert {"in_service_on": "2024-05-31"} == dict(plan.steps)


SPOILT = {
    "merged": (lambda s: s.merge_cells("B2:B3"), {2: "cells B2:B3 are merged", 3: "merged"}),
    "formula never worked out": (
        lambda s: s.__setitem__("B2", "=1+1"), {2: "formula that was never worked out"},
    ),
    "error": (lambda s: setattr(s["B3"], "value", "#REF!"), {3: "holds the error #REF!"}),
    "day as strength": (
        lambda s: s.__setitem__("B2", date(2024, 5, 8)), {2: "is a day, not a strength"},
    ),
    "long fraction": (lambda s: s.__setitem__("B2", 22.3333), {2: "not a strength"}),
    "yes": (lambda s: s.__setitem__("B2", True), {2: "'yes' is not a strength"}),
}  # fmt: skip


@pytest.mark.parametrize(("edit", "reasons"), SPOILT.values(), ids=SPOILT)
def test_spoilt_cells_are_refused_with_their_row(register, xlsx_file, edit, reasons):
    """Merged cells, formulas without value, errors: the row is named, never guessed."""
    path = xlsx_file([["Label", "Closed"], ["A-1", 27], ["A-2", 22]], edit)
    _, plans = _plans(register, path)
    refused = {plan.number: "; ".join(plan.reasons) for plan in plans if plan.reasons}
    assert reasons.keys() == refused.keys()
    for number, said in reasons.items():
        assert said in refused[number]


@pytest.mark.parametrize(
    ("name", "data", "error", "said"),
    [
        ("gear.xlsx", b"not a zip", ImportRefused, "no workbook"),
        ("gear.xlsx", b"PK\x05\x06" + b"\0" * 18, ImportRefused, "no workbook"),
        ("gear.csv", b"a\x00b", ImportRefused, "no CSV"),
        ("gear.csv", b'Label\n"A-1', ImportRefused, "row 2"),
        ("gear.csv", b"", ImportRefused, "no headings"),
        ("gear.ods", b"x", UsageError, "neither .csv nor .xlsx"),
    ],
)
def test_files_that_are_none_are_refused(csv_file, name, data, error, said):
    """Damaged, empty or other files: one line."""
    with pytest.raises(error, match=said):
        read_table(csv_file(data, name=name))


def test_missing_and_unknown_sheets(tmp_path, xlsx_file):
    """A file that is not there, a sheet that is not there."""
    with pytest.raises(ImportRefused, match="cannot open"):
        read_table(tmp_path / "none.csv")
    path = xlsx_file([["Label"], ["A-1"]])
    with pytest.raises(UsageError, match="no sheet Gear") as caught:
        read_table(path, sheet="Gear")
    assert "Sheet" in caught.value.remedy


def test_workbook_bomb_is_not_unpacked(csv_file):
    """A small file that would unpack to gigabytes is refused before it is."""
    import zipfile

    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as bomb:
        block = b"\0" * 2**20
        with bomb.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as entry:
            for _ in range(1100):
                entry.write(block)
    with pytest.raises(ImportRefused, match="larger than any list"):
        read_table(csv_file(packed.getvalue(), name="bomb.xlsx"))


TEXTS = st.text(st.characters(codec="utf-8", exclude_characters="\x00\r"), max_size=12)


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(rows=st.lists(st.lists(TEXTS, min_size=9, max_size=9), max_size=4))
def test_any_text_is_planned_or_refused(register, csv_file, rows):
    """Whatever stands in the cells, each row gets a verdict; what is accepted can be entered."""
    import csv

    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(
        ["Label", "Maker", "Model", "Serial", "Made", "Closed", "Marks", "Place", "First use"]
    )
    writer.writerows(rows)
    path = csv_file(out.getvalue())
    table, plans = _plans(register, path)
    good = [plan for plan in plans if plan.verdict is Verdict.ENTER]
    assert len(plans) == len(table.rows)

    class Undo(Exception):
        """Leaves the register as it was."""

    with pytest.raises(Undo), register.writing():
        assert len(good) == len(enter_rows(register, table, good, who="Ada", at=NOW))
        raise Undo

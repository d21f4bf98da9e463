"""Hostile input at every door: refused in a plain line, never a fall, never a text that steers."""

import csv
import io
import json
import re
import subprocess
import sys
import time
import zipfile
from pathlib import Path

import pytest
from fuzz import attack, run_case
from hostile import NOW, TARGETS, Exchange, Table

from stampreader.cli import run
from stampreader.errors import ImportRefused, PlanError, StampError, UsageError
from stampreader.fit import read_uses
from stampreader.register import (
    add_by_hand,
    change_setting,
    export_lines,
    find_connector,
    import_lines,
    open_register,
    read_table,
    set_aside,
    waiting,
)
from stampreader.rig import read_plan, work_out

SCRIPT = Path(__file__).with_name("fuzz.py")
CASES = 2500


def test_a_short_run_of_everything():
    """A few thousand cases over all doors, the same ones each time; none falls over."""
    done = subprocess.run(
        [sys.executable, str(SCRIPT), "--cases", str(CASES), "--seed", "5"],
        capture_output=True, text=True, timeout=600,
    )  # fmt: skip
    assert 0 == done.returncode, done.stdout + done.stderr
    counts = {name: int(n) for name, n in re.findall(r"^(\w+) +(\d+) cases", done.stdout, re.M)}
    assert set(TARGETS) == set(counts) and CASES <= sum(counts.values())
    assert re.search(r"^photo .* \d+ photo", done.stdout, re.M), "no photo was refused"
    assert re.search(r"^exchange .* \d+ fine", done.stdout, re.M), "no exchange file was taken"


class Falls:
    """A door that falls over at some cases, crashes at one, and hangs at another."""

    share = 1

    def __init__(self, folder):
        self.number = -1

    def case(self, chance):
        """Do what the number says."""
        import os
        import signal
        import time

        self.number += 1
        if self.number == 2:
            raise KeyError("inside")
        if self.number == 4:
            os.kill(os.getpid(), signal.SIGSEGV)
        if chance.random() < -1:
            time.sleep(60)


def test_the_fuzzing_notices_faults_and_crashes(monkeypatch):
    """An exception is a finding with its number, a crash is one too, and the run goes on after it."""
    monkeypatch.setitem(TARGETS, "falls", Falls)
    counts, found = attack("falls", 1, range(8))
    assert ["falls 4: ended with -11"] == [f for f in found if "ended" in f]
    assert 1 == counts["lost"] and any("KeyError" in f for f in found)


def test_a_hanging_case_is_noticed(monkeypatch):
    """A case that does not end in time is killed and told."""

    class Hangs(Falls):
        def case(self, chance):
            import time

            time.sleep(60)

    monkeypatch.setitem(TARGETS, "hangs", Hangs)
    monkeypatch.setattr("fuzz.MOST_S", 0.5)
    _, found = attack("hangs", 1, range(1))
    assert ["hangs 0: hangs for more than 0.5 s"] == found


def test_an_error_in_a_word_that_steers_the_terminal():
    """Whatever an error quotes, its line holds no control character."""
    line = UsageError("no sheet \x1b[2J\x07\u202e27\udc80").line()
    assert "\\x1b[2J\\x07\\u202e27\\udc80" in line and line.isprintable()
    assert run_case(type("T", (), {"case": lambda self, chance: 1 / 1})(), None) == "fine"
    with pytest.raises(AssertionError):
        raising = StampError("x")
        raising.line = lambda: "two\nlines"

        class Says:
            def case(self, chance):
                raise raising

        run_case(Says(), None)


@pytest.mark.parametrize("text", ["Oval\x1b[2J", "\x9b31m", "a\x00b", "a\x7fb", "a\rb"])
def test_a_text_of_another_station_that_steers_the_terminal(tmp_path, text):
    """A well sealed exchange file whose connector is called by an escape sequence: refused."""
    door = Exchange(tmp_path)
    values = [json.loads(line) for line in door.lines[:-1]]
    event = next(value for value in values if value["type"] == "event")
    event["body"]["fields"]["maker"] = text
    from hostile import _hashed, _sealed

    with open_register(door.path) as ours:
        with pytest.raises(ImportRefused, match="not a plain text") as told:
            import_lines(ours, _sealed([_hashed(v) for v in values]), source="x", who="M", at=NOW)
        assert told.value.line().isprintable()


def test_our_own_texts_hold_none_either(tmp_path):
    """What a person types or a file is called: cleaned or refused, so that it can be merged."""
    register = tmp_path / "r.sqlite"
    sheet = tmp_path / "old\x1b[2J\nlist.csv"
    sheet.write_text("Label,Closed\nC-1,27\n", "utf-8")
    words = ["--map", "Label=id", "--map", "Closed=closed_kN", "--who", "Ada"]
    assert 0 == run(["import", str(sheet), *words, "--register", str(register)])
    with open_register(register) as book:
        with pytest.raises(UsageError, match="cannot be"):
            change_setting(book, "team", "Hut\x1b[2J", who="Ada", at=NOW)
        assert "old[2J list.csv" == book.history(find_connector(book, "C-1").uid)[0].body["source"]
        set_aside(book, waiting(book), reason="not\x1b one", who="Ada", at=NOW)
        lines = [line.encode() for line in export_lines(book, at=NOW)]
    assert b"\\u001b" not in b"".join(lines)
    with open_register(tmp_path / "other.sqlite", create=True) as other:
        assert 0 < import_lines(other, lines, source="x", who="M", at=NOW).events


DEEP = {
    "brackets": "a = " + "[" * 3000,
    "tables in tables": "a = " + "{a=" * 1000,
    "a key of very many parts": ".".join(["a"] * 20_000) + " = 1",
    "a number of very many digits": "ratio = " + "9" * 3900,
    "a number longer than a line": "ratio = " + "9" * 5000,
}


@pytest.mark.parametrize("text", DEEP.values(), ids=DEEP)
def test_a_plan_that_would_take_for_ever(text):
    """Nested, long and large beyond any plan: refused at once, in a line."""
    start = time.monotonic()
    with pytest.raises(PlanError) as told:
        work_out(read_plan(text, "plan.toml"))
    assert told.value.line().isprintable() and time.monotonic() - start < 2


def test_a_rule_that_is_no_number_one_can_hold():
    """The team's own rules: a number of thousands of digits is named, not a fall."""
    with pytest.raises(StampError, match=r"uses\.toml"):
        read_uses("[x]\nleast_closed_kN = " + "9" * 5000, "uses.toml")


def test_a_damaged_workbook(tmp_path):
    """A workbook whose packed sheet is spoilt: a line, not the decompressor's own words."""
    door = Table(tmp_path)
    data = bytearray(door.workbook)
    with zipfile.ZipFile(io.BytesIO(door.workbook)) as packed:
        start = packed.getinfo("xl/worksheets/sheet1.xml").header_offset + 60
    data[start : start + 40] = b"\xff" * 40
    (tmp_path / "spoilt.xlsx").write_bytes(data)
    with pytest.raises(ImportRefused, match="no workbook, or is damaged"):
        read_table(tmp_path / "spoilt.xlsx")


def test_a_workbook_without_a_sheet(tmp_path):
    """Its list of sheets lost its only entry."""
    door = Table(tmp_path)
    with (
        zipfile.ZipFile(io.BytesIO(door.workbook)) as packed,
        zipfile.ZipFile(tmp_path / "none.xlsx", "w") as made,
    ):
        for name in packed.namelist():
            data = packed.read(name)
            if name == "xl/workbook.xml":
                data = re.sub(rb"<sheets>.*</sheets>", b"<sheets></sheets>", data)
            made.writestr(name, data)
    with pytest.raises(ImportRefused, match="holds no sheet"):
        read_table(tmp_path / "none.xlsx")


@pytest.mark.parametrize("ref", ["A1:XFD1048576", "A1:A1048576", "A1:ZZ900"])
def test_cells_merged_over_everything(tmp_path, ref):
    """A few bytes that would unfold to thousands of millions of cells: refused at once."""
    door = Table(tmp_path)
    with (
        zipfile.ZipFile(io.BytesIO(door.workbook)) as packed,
        zipfile.ZipFile(tmp_path / "wide.xlsx", "w") as made,
    ):
        for name in packed.namelist():
            merged = f'</sheetData><mergeCells count="1"><mergeCell ref="{ref}"/></mergeCells>'
            made.writestr(name, packed.read(name).replace(b"</sheetData>", merged.encode()))
    start = time.monotonic()
    with pytest.raises(ImportRefused, match="cells are merged"):
        read_table(tmp_path / "wide.xlsx")
    assert time.monotonic() - start < 2


FORMULAS = ["=1+1", "+1", "-1+2", "@SUM(A1)", '=HYPERLINK("x")', "\t=1", "|cmd"]


@pytest.mark.parametrize("text", FORMULAS)
def test_no_cell_of_a_list_becomes_a_formula(tmp_path, capsys, text):
    """`list --csv`: a cell that begins with a formula's sign is led by an apostrophe (OWASP, "CSV
    Injection"), read back by Python's csv."""
    register = tmp_path / "r.sqlite"
    with open_register(register, create=True) as book:
        add_by_hand(book, {"closed_kN": "27", "maker": text}, who="Ada", at=NOW)
    capsys.readouterr()
    assert 0 == run(["list", "--csv", "--register", str(register)])
    rows = list(csv.reader(io.StringIO(capsys.readouterr().out)))
    cells = [cell for row in rows for cell in row]
    assert any(text.strip() in cell for cell in cells)
    assert not [cell for cell in cells if re.match(r"[=+@\t\r]|-(?!$|\d+(\.\d+)?$)", cell)], rows


PDF_WORDS = [") Tj ET (x", "<< /S /JavaScript /JS (app.alert(1)) >>", "endobj 9 0 obj", "**bold** __x__",
             "<a href='x'>l</a>", "\\(\\050"]  # fmt: skip


@pytest.mark.parametrize("text", PDF_WORDS)
def test_a_pdf_draws_what_looks_like_its_own_language(tmp_path, text):
    """A maker's name written as PDF or markup is drawn letter by letter (read back by PDFium), and
    the file holds no script, link or action."""
    import pypdfium2

    register, pdf = tmp_path / "r.sqlite", tmp_path / "r.pdf"
    with open_register(register, create=True) as book:
        add_by_hand(book, {"closed_kN": "27", "maker": text}, who="Ada", at=NOW)
    assert 0 == run(["report", "card", "C-0001", "--to", str(pdf), "--register", str(register)])
    with pypdfium2.PdfDocument(pdf) as opened:
        pages = [opened[n].get_textpage().get_text_range() for n in range(len(opened))]
    squeezed = "".join("".join(pages).split())
    assert "".join(text.split()) in squeezed
    data = pdf.read_bytes()
    assert not re.search(rb"/(JavaScript|JS|AA|URI|Launch)\b", data)
    assert not re.search(rb"/OpenAction (?!\[\d+ 0 R /Fit)", data), "more than a page to open at"

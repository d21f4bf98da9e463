"""`stampreader labels`, `sheet` and `report`: files written, and what is refused."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import cv2
import openpyxl
import pytest

from stampreader.cli import run
from stampreader.photo import photo_from_pixels
from stampreader.photo.sheet import read_sheet
from stampreader.register import Kind, add_by_hand, change_setting, open_register

NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)


@pytest.fixture
def shelf(tmp_path, monkeypatch):
    """A register with three connectors of one delivery; the second is retired."""
    path = tmp_path / "register.sqlite"
    with open_register(path, create=True) as register:
        change_setting(register, "team", "Northface Team", who="M. Grau", at=NOW)
        for number in (1, 2, 3):
            fields = {
                "closed_kN": "27", "cross_kN": "8", "open_kN": "7", "maker": "Felsnase",
                "model": "Oval", "delivery": "Spring",
            }  # fmt: skip
            event = add_by_hand(register, fields, who="M. Grau", at=NOW)
            if number == 2:
                body = {"reason": "worn"}
                register.record(Kind.RETIRED, event.connector, body, who="M. Grau", at=NOW)
    monkeypatch.setenv("STAMPREADER_REGISTER", str(path))
    monkeypatch.chdir(tmp_path)
    return path


def _said(capsys):
    out, err = capsys.readouterr()
    return out, err


def test_labels_of_a_delivery(shelf, tmp_path, capsys, read_pdf):
    """All connectors of a delivery get a label with id, maker and model."""
    assert 0 == run(["labels", "--delivery", "Spring", "--to", "labels.pdf"])
    assert "labels.pdf: 3 labels\n" == _said(capsys)[0]
    text = read_pdf((tmp_path / "labels.pdf").read_bytes()).all_text
    assert ["C-0001", "C-0002", "C-0003"] == [word for word in text.split() if word[:2] == "C-"]
    assert "Felsnase Oval" in text


def test_new_ids_go_on_after_the_last(shelf, capsys):
    """`--new` gives the next free ids, and says that they are not kept back."""
    assert 0 == run(["labels", "--new", "2", "--to", "labels.pdf", "--json"])
    out, err = _said(capsys)
    assert ["C-0004", "C-0005"] == json.loads(out)["ids"]
    assert "not kept back" in err


def test_new_ids_from_a_given_one_pass_over_taken_ones(shelf, capsys):
    """`--from C-0002` leaves out the ids that connectors have."""
    assert 0 == run(["sheet", "--new", "2", "--from", "C-0002", "--to", "s.pdf", "--json"])
    assert ["C-0004", "C-0005"] == json.loads(_said(capsys)[0])["ids"]


def test_new_ids_without_a_register(tmp_path, monkeypatch, capsys):
    """Labels can be printed before there is a register; none is made."""
    monkeypatch.setenv("STAMPREADER_REGISTER", str(tmp_path / "none.sqlite"))
    to = str(tmp_path / "labels.pdf")
    assert 0 == run(["labels", "--new", "3", "--from", "NF-0099", "--to", to, "--json"])
    assert ["NF-0099", "NF-0100", "NF-0101"] == json.loads(_said(capsys)[0])["ids"]
    assert not (tmp_path / "none.sqlite").exists()


def test_printed_sheet_is_read_back(shelf, tmp_path, capsys, read_pdf):
    """The sheet the command writes, as a flat picture, gives the ids it was asked for."""
    assert 0 == run(["sheet", "C-0003", "c-0001", "--cells", "4", "--to", "sheet.pdf"])
    page = read_pdf((tmp_path / "sheet.pdf").read_bytes()).picture(0, dpi=200)
    cells = read_sheet(photo_from_pixels(cv2.copyMakeBorder(page, 40, 40, 40, 40, 0, value=(120,))))
    assert ["C-0003", "C-0001", None, None] == [cell.id for cell in cells]


@pytest.mark.parametrize(
    ("arguments", "files"),
    [
        (["card", "C-0001", "C-0002"], ("x.pdf", "x.html")),
        (["card", "C-0001", "--load", "2 people"], ("x.xlsx",)),
        (["register", "--state", "retired"], ("x.pdf", "x.html", "x.csv", "x.xlsx")),
        (["due", "--days", "400"], ("x.pdf", "x.html", "x.csv", "x.xlsx")),
        (["delivery", "Spring"], ("x.pdf", "x.html", "x.xlsx")),
        (["inspections", "--on", "2026-03-01"], ("x.pdf", "x.html", "x.xlsx")),
    ],
    ids=lambda value: value[0] if isinstance(value, list) else "",
)
def test_report_in_every_form(shelf, tmp_path, arguments, files):
    """Each report is written in each form that can hold it, in one go."""
    to = [part for name in files for part in ("--to", name)]
    assert 0 == run(["report", *arguments, *to])
    starts = {
        ".pdf": b"%PDF-",
        ".html": b"<!doctype html>",
        ".csv": b"\xef\xbb\xbf",
        ".xlsx": b"PK",
    }
    for name in files:
        data = (tmp_path / name).read_bytes()
        assert data.startswith(starts[(tmp_path / name).suffix])


def test_register_report_is_filtered(shelf, tmp_path):
    """Only the retired connector stands in the list of retired ones."""
    assert 0 == run(["report", "register", "--state", "retired", "--to", "x.xlsx"])
    sheet = openpyxl.load_workbook(tmp_path / "x.xlsx")["Register"]
    assert ["C-0002"] == [row[0].value for row in sheet.iter_rows(min_row=2)]


def test_team_and_state_are_on_the_page(shelf, tmp_path, read_pdf):
    """The head carries the team as set, the foot the state of the register."""
    assert 0 == run(["report", "card", "C-0001", "--to", "x.pdf"])
    text = read_pdf((tmp_path / "x.pdf").read_bytes()).text(0)
    assert text.startswith("Northface Team Record card")
    assert "register up to entry" in text


def test_json_tells_what_was_written(shelf, capsys):
    """One object a file on standard output, nothing else there."""
    assert 0 == run(["report", "register", "--to", "a.csv", "--to", "a.html", "--json"])
    told = [json.loads(line) for line in _said(capsys)[0].splitlines()]
    assert [("a.csv", "register", 3), ("a.html", "register", 3)] == [
        (row["file"], row["report"], row["rows"]) for row in told
    ]


@pytest.mark.parametrize(
    ("arguments", "status", "said"),
    [
        (["labels", "--to", "x.pdf"], 2, "no connector is chosen"),
        (["labels", "Q-1", "--to", "x.pdf"], 1, "no connector Q-1"),
        (["labels", "--delivery", "Nowhere", "--to", "x.pdf"], 2, "no connector in the register"),
        (["labels", "--new", "5001", "--to", "x.pdf"], 2, "too many"),
        (["labels", "--new", "1", "--from", "AB", "--to", "x.pdf"], 2, "does not end in a number"),
        (["labels", "--new", "1", "--from", "<b>1", "--to", "x.pdf"], 2, "cannot be an id"),
        (["labels", "C-0001", "--grid", "b5", "--to", "x.pdf"], 2, "no label grid"),
        (["labels", "C-0001", "--skip", "24", "--to", "x.pdf"], 2, "cannot skip 24"),
        (["labels", "C-0001", "--paper", "a5", "--to", "x.pdf"], 2, "no paper"),
        (["sheet", "C-0001", "--cells", "5", "--to", "x.pdf"], 2, "no sheet of 5 cells"),
        (["sheet", "C-0001", "--to", "missing/x.pdf"], 1, "there is no folder"),
        (["sheet", "C-0001", "--to", "."], 1, "is a folder"),
        (["report", "card", "--to", "x.pdf"], 2, "no connector is named"),
        (["report", "card", "Q-1", "--to", "x.pdf"], 1, "no connector Q-1"),
        (["report", "card", "C-0001", "--to", "x.doc"], 2, "in which form"),
        (["report", "card", "C-0001", "--to", "x.csv"], 2, "several different tables"),
        (["report", "card", "C-0001", "C-0003", "--to", "x.xlsx"], 2, "do not fit one XLSX"),
        (["report", "card", "C-0001", "--load", "2", "--to", "x.pdf"], 2, "unit"),
        (
            ["report", "card", "C-0001", "--load", "2 kN", "--ratio", "0", "--to", "x.pdf"],
            2,
            "ratio",
        ),
        (["report", "delivery", "--to", "x.pdf"], 2, "give one delivery"),
        (["report", "delivery", "Nowhere", "--to", "x.pdf"], 2, "no delivery 'Nowhere'"),
        (["report", "due", "C-0001", "--to", "x.pdf"], 2, "takes no name"),
        (["report", "due", "--on", "30.2.", "--to", "x.pdf"], 2, "day"),
        (["report", "inspections", "--on", "2026-02-30", "--to", "x.pdf"], 2, "day"),
        (["report", "register", "--state", "asleep", "--to", "x.pdf"], 2, "no such state"),
    ],
    ids=lambda value: " ".join(value[:4]) if isinstance(value, list) else "",
)
def test_refusals_are_one_line_and_write_nothing(shelf, tmp_path, capsys, arguments, status, said):
    """Wrong input: one line with what to do, the right exit status, no file."""
    before = {tmp_path / "register.sqlite"}
    assert status == run(arguments)
    out, err = _said(capsys)
    assert "" == out
    lines = [line for line in err.splitlines() if "not kept back" not in line]
    assert 1 == len(lines)
    assert said in lines[0]
    after = {path for path in tmp_path.iterdir() if not path.name.startswith("register.sqlite-")}
    assert before == after


@pytest.mark.parametrize("command", [["labels", "C-0001"], ["sheet", "C-0001"], ["report", "due"]])
def test_a_file_is_not_written_over(shelf, tmp_path, capsys, command):
    """An existing file is kept unless --overwrite is given."""
    (tmp_path / "x.pdf").write_text("mine")
    assert 2 == run([*command, "--to", "x.pdf"])
    assert "exists already" in _said(capsys)[1]
    assert "mine" == (tmp_path / "x.pdf").read_text()
    assert 0 == run([*command, "--to", "x.pdf", "--overwrite"])
    assert (tmp_path / "x.pdf").read_bytes().startswith(b"%PDF-")


def test_full_disk_leaves_no_half_file(shelf, tmp_path, capsys, monkeypatch):
    """When the disk fills while writing there is one line and no file, old one kept."""
    (tmp_path / "x.pdf").write_text("mine")

    def full(source, target):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("stampreader.cli.printing.os.replace", full)
    assert 1 == run(["report", "due", "--to", "x.pdf", "--overwrite"])
    assert "cannot write x.pdf: No space left on device" in _said(capsys)[1]
    assert "mine" == (tmp_path / "x.pdf").read_text()
    assert ["x.pdf"] == [p.name for p in tmp_path.glob("*pdf*")]


@pytest.mark.parametrize("form", ["x.pdf", "x.html", "x.xlsx"])
def test_missing_library_says_how_to_install_it(shelf, capsys, monkeypatch, form):
    """Without the report extra there is a line with the command to install it."""
    import builtins

    real = builtins.__import__
    for name in ("report.pdf", "report.html", "report.ink", "report.sheet", "report.ruled"):
        monkeypatch.delitem(__import__("sys").modules, f"stampreader.{name}", raising=False)

    def without(name, *rest, **options):
        if name.split(".")[0] in ("fpdf", "jinja2", "openpyxl"):
            raise ModuleNotFoundError(f"No module named {name!r}", name=name.split(".")[0])
        return real(name, *rest, **options)

    monkeypatch.setattr(builtins, "__import__", without)
    assert 2 == run(["report", "register", "--to", form])
    err = _said(capsys)[1]
    assert "is not installed" in err
    assert 'pip install "stampreader[report]"' in err


def test_report_without_a_register_makes_none(tmp_path, monkeypatch, capsys):
    """A report of a register that is not there is refused, and none is begun."""
    monkeypatch.setenv("STAMPREADER_REGISTER", str(tmp_path / "none.sqlite"))
    assert 1 == run(["report", "register", "--to", str(tmp_path / "x.pdf")])
    assert "there is no register" in _said(capsys)[1]
    assert not (tmp_path / "none.sqlite").exists()

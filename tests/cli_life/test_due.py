"""Due inspections on the command line and in a calendar."""

from datetime import date, timedelta

import pytest
import vobject
from dateutil.relativedelta import relativedelta

TODAY = date.today()


@pytest.fixture
def dues(desk):
    """Overdue in kit 1, due soon in kit 2, due in half a year."""
    desk.add("C-1", in_service=400, to="Kit 1")
    desk.add("C-2", in_service=390, to="Kit 1")
    desk.add("C-3", in_service=355, to="Kit, 2; red")
    desk.add("C-4", in_service=180, to="Kit 3")
    return desk


def test_overdue_and_soon(dues):
    """The longest overdue first, with how many days, where each is and when it last passed."""
    out, _ = dues.run("due")
    lines = out.splitlines()
    assert ["C-1", "C-2", "C-3"] == ["C-" + line.split("C-")[1][0] for line in lines[1:4]]
    assert "overdue" in lines[1] and "Kit 1" in lines[1] and "never" in lines[1]
    assert "2 overdue, 1 due soon." == lines[-1]


def test_json(dues):
    """One object each: the day, the days left, whether overdue."""
    rows = dues.json("due", "--days", "400")
    assert ["C-1", "C-2", "C-3", "C-4"] == [row["id"] for row in rows]
    due_on = TODAY - timedelta(days=400) + relativedelta(months=12)
    assert (due_on.isoformat(), True, 12, (due_on - TODAY).days) == (
        rows[0]["due_on"], rows[0]["overdue"], rows[0]["interval_months"], rows[0]["days_left"],
    )  # fmt: skip


def test_limits(dues):
    """Of a kit, of a delivery, the first few; what is left out is told."""
    assert ["C-3"] == [row["id"] for row in dues.json("due", "--place", "kit, 2; red")]
    assert [] == dues.json("due", "--delivery", "Spring")
    out, err = dues.run("due", "--limit", "1")
    assert "C-2" not in out and "1 of 3 shown" in err


def test_nothing_due_is_said(desk):
    """An empty list says so beside the output."""
    desk.add("C-1", in_service=10)
    out, err = desk.run("due", "--days", "5")
    assert ("", "No inspection is overdue or due within 5 days.\n") == (out, err)


def test_a_kit_with_its_own_interval(dues):
    """Set to six months, what was due in half a year is due now."""
    dues.run("interval", "kit 3", "6")
    assert "C-4" in [row["id"] for row in dues.json("due")]
    assert [{"kit": None, "months": 12}, {"kit": "kit 3", "months": 6}] == dues.json("interval")
    assert [{"kit": "KIT 3", "months": 6}] == dues.json("interval", "KIT 3")
    dues.run("interval", "Kit 3", "usual")
    assert "C-4" not in [row["id"] for row in dues.json("due")]


def test_the_usual_interval_is_set(dues):
    """All kits without one of their own follow the setting."""
    dues.run("settings", "interval_months", "6")
    assert 4 == len(dues.json("due"))


BAD = {
    "no number": (["interval", "Kit", "six"], "'six' is no number of months"),
    "half a month": (["interval", "Kit", "6.5"], "'6.5' is no number of months"),
    "nothing": (["interval", "Kit", "0"], "an interval of 0 months"),
    "too long": (["interval", "Kit", "121"], "an interval of 121 months"),
    "not set": (["interval", "Kit", "usual"], "has no interval of its own"),
    "no name": (["interval", " ", "6"], "is empty"),
}


@pytest.mark.parametrize(("words", "line"), BAD.values(), ids=BAD)
def test_bad_intervals(desk, words, line):
    """One line, wrong usage, nothing set."""
    desk.add("C-1")
    assert line in desk.refused(*words, expect=2)
    assert [{"kit": None, "months": 12}] == desk.json("interval")


def test_who_asks_for_which_interval(desk):
    """The table of demands with sources; no register is needed."""
    out, _ = desk.run("interval", "--asked")
    assert "EN 365:2004" in out and "12 months" in out and "LOLER" in out and "Source:" in out
    rows = desk.json("interval", "--asked")
    assert 11 == len(rows) and all(row["source"] for row in rows)


# -- the calendar: RFC 5545, read back with a general library (vobject) --------------------------


def entries(path):
    """All-day entries of a calendar file: start, summary, description, alarm."""
    with path.open(encoding="utf-8", newline="") as file:
        calendar = vobject.readOne(file.read())
    return [
        (e.dtstart.value, e.dtend.value, e.summary.value, e.description.value, e.uid.value,
         e.location.value, len(e.valarm_list))
        for e in calendar.vevent_list
    ]  # fmt: skip


def test_a_calendar_of_due_inspections(dues):
    """One all-day entry a kit and day; what is overdue stands on today so that it is seen."""
    path = dues.folder / "due.ics"
    dues.run("due", "--calendar", path)
    first, second = sorted(entries(path))
    assert (TODAY, TODAY + timedelta(days=1)) == first[:2]
    assert "Inspection overdue: 2 in Kit 1" == first[2]
    assert first[3].startswith("C-1 (due ") and "\nC-2 (due " in first[3]
    due_on = TODAY - timedelta(days=355) + relativedelta(months=12)
    assert (due_on, "Inspection due: 1 in Kit, 2; red", "Kit, 2; red", 1) == (
        second[0], second[2], second[5], second[6],
    )  # fmt: skip


def test_the_file_keeps_to_the_standard(dues):
    """RFC 5545: lines end in CRLF and hold at most 75 octets (3.1); the heads are there (3.6)."""
    path = dues.folder / "due.ics"
    dues.run("move", "C-1", "C-2", "--to", "Rettungstasche für Höhlen – Würfel, Wände; " * 1)
    dues.run("settings", "team", "Bergwacht Beispiel; eine sehr lange Gruppe, mit Zeichen " * 1)
    dues.run("due", "--calendar", path)
    data = path.read_bytes()
    lines = data.split(b"\r\n")
    assert b"" == lines[-1] and b"\n" not in data.replace(b"\r\n", b"")
    assert all(len(line) <= 75 for line in lines)
    for head in (b"BEGIN:VCALENDAR", b"VERSION:2.0", b"PRODID:-//stampreader//inspections//EN"):
        assert head in lines
    assert any("Höhlen – Würfel, Wände;" in entry[5] for entry in entries(path))


def test_importing_again_updates_the_entries(dues):
    """The same kit and day keep their UID, another day gets another."""
    first, second = dues.folder / "a.ics", dues.folder / "b.ics"
    dues.run("due", "--calendar", first)
    dues.run("inspect", "C-2", "--rest-passes")
    dues.run("due", "--days", "400", "--calendar", second)
    before, after = ({e[4] for e in entries(path)} for path in (first, second))
    assert before < after


def test_a_calendar_holds_all_whatever_is_shown(dues):
    """The limit is for the screen."""
    path = dues.folder / "due.ics"
    dues.run("due", "--limit", "1", "--calendar", path)
    assert 2 == len(entries(path))


def test_a_calendar_of_nothing(desk):
    """No inspection due gives a calendar without entries, and says so."""
    desk.add("C-1", in_service=1)
    desk.run("due", "--calendar", desk.folder / "due.ics")
    assert b"BEGIN:VEVENT" not in (desk.folder / "due.ics").read_bytes()


def test_a_calendar_is_not_written_over(dues):
    """An existing file is kept unless it is asked for; a missing folder is told."""
    path = dues.folder / "due.ics"
    path.write_text("mine")
    assert "exists already" in dues.refused("due", "--calendar", path, expect=2)
    assert "mine" == path.read_text()
    dues.run("due", "--calendar", path, "--overwrite")
    assert 2 == len(entries(path))
    assert "no folder" in dues.refused("due", "--calendar", dues.folder / "no" / "due.ics")

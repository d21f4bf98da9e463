"""Picking for a use on the command line: what qualifies, what does not and why, the kit."""

import csv
import io

import pypdfium2
import pytest


def by_id(rows):
    """Rows by the connector's id."""
    return {row["id"]: row for row in rows}


def test_what_qualifies_and_what_does_not_and_why(kit):
    """Every connector stands in one list or the other, with each of its reasons."""
    rows = by_id(kit.json("pick", "--use", "belay"))
    assert {"C-1"} == {id for id, row in rows.items() if row["qualifies"]}
    assert [
        "its shape is D, not pear or hms or wide top or marked EN 12275/H",
    ] == rows["C-2"]["reasons"]  # fmt: skip
    assert "its gate does not lock (wire gate)" in rows["C-3"]["reasons"]
    assert "registered, not yet in service" == rows["C-5"]["reasons"][0]
    assert ["no third-party mark", "entered by hand"] == rows["C-4"]["remarks"]


def test_a_locking_gate_for_life_support(kit):
    """Screwed and self-locking gates qualify, a wire gate does not."""
    rows = by_id(kit.json("pick", "--use", "life-support"))
    assert {"C-1", "C-2", "C-4"} == {id for id, row in rows.items() if row["qualifies"]}


def test_a_mark_that_the_department_requires(kit):
    """NFPA G is found whichever number of the standard stands beside it."""
    kit.run("service", "C-5")
    rows = by_id(kit.json("pick", "--use", "nfpa-general"))
    assert {"C-5"} == {id for id, row in rows.items() if row["qualifies"]}
    assert "no mark NFPA G" in rows["C-1"]["reasons"]


def test_never_quarantined_never_overdue(kit):
    """Whatever the use."""
    kit.run("quarantine", "C-1", "--why", "fall")
    kit.run("interval", "Kit 2", "1")
    rows = by_id(kit.json("pick", "--use", "gear"))
    assert {"C-2", "C-3"} == {id for id, row in rows.items() if row["qualifies"]}
    assert ["quarantined, not to be used: fall"] == rows["C-1"]["reasons"]
    assert rows["C-4"]["reasons"][0].startswith("overdue for inspection since")


def test_a_planned_load(kit):
    """The closed figure keeps the ratio under the load, or the connector does not qualify.

    23 kN over 2.3 kN is 10 (by hand); 22 kN is 9.56, cut off.
    """
    rows = by_id(kit.json("pick", "--use", "gear", "--load", "2.3 kN", "--ratio", "10"))
    assert {"C-1", "C-2", "C-4"} == {id for id, row in rows.items() if row["qualifies"]}
    assert ["closed 22 kN is 9.56 times 2.3 kN; 10:1 is asked"] == rows["C-3"]["reasons"]
    assert {"closed": 10, "cross": None, "open": None} == rows["C-4"]["margins"]
    out, _ = kit.run("pick", "--use", "gear", "--load", "2.3 kN")
    assert "10.00/?/?" in out and "A calculation aid only." in out


def test_a_kit_is_drawn_up(kit):
    """The only pear goes to the belay though it would do for life support; each is used once."""
    out, _ = kit.run("pick", "--use", "life-support:2", "--use", "belay:1")
    rows = kit.json("pick", "--use", "life-support:2", "--use", "belay:1")
    assert {("life-support", "C-2"), ("life-support", "C-4"), ("belay", "C-1")} == {
        (row["use"], row["id"]) for row in rows if row["in_kit"]
    }
    assert out.startswith("Kit\n")


def test_a_kit_that_cannot_be_filled(kit):
    """What is missing is told, and the exit status is 1."""
    out, _ = kit.run("pick", "--use", "belay:3", expect=1)
    assert "2 more wanted for belay" in out


def test_only_named_ones_or_a_shelf(kit):
    """Ids, kit, maker limit where to look."""
    assert ["C-3", "C-1"] == [r["id"] for r in kit.json("pick", "C-1", "c-3", "--use", "belay")][
        ::-1
    ]
    assert {"C-4"} == set(by_id(kit.json("pick", "--use", "belay", "--place", "kit 2")))
    assert {"C-1", "C-2"} == set(by_id(kit.json("pick", "--use", "gear", "--maker", "FELSNASE")))
    assert "no connector C-9" in kit.refused("pick", "C-9", "--use", "belay")


def test_a_limit_tells_that_there_is_more(kit):
    """Cut lists say so; 0 shows all."""
    out, _ = kit.run("pick", "--use", "gear", "--limit", "1")
    assert "the first 1 qualify" in out and "--limit 0 looks at all" in out
    assert 5 == len(kit.json("pick", "--use", "gear", "--limit", "0"))


BAD = {
    "no use": ([], "no use is named"),
    "an unknown use": (["--use", "picnic"], "no use 'picnic'"),
    "no count": (["--use", "belay:"], "has no count"),
    "a count of nothing": (["--use", "belay:0"], "has no count"),
    "a count of words": (["--use", "belay:two"], "has no count"),
    "far too many": (["--use", "belay:501"], "has no count"),
    "a load without a unit": (["--use", "gear", "--load", "2"], "unit"),
    "a ratio of nothing": (["--use", "gear", "--ratio", "0"], "ratio"),
    "an unknown form": (["--use", "gear", "--load", "2 kN", "--to", "kit.doc"], "in which form"),
    "a list without a load": (["--use", "gear", "--to", "kit.pdf"], "no load is given"),
    "no rules file": (["--use", "gear", "--rules-file", "no.toml"], "cannot be read"),
}


@pytest.mark.parametrize(("words", "line"), BAD.values(), ids=BAD)
def test_wrong_usage(kit, words, line):
    """One line, exit status 2."""
    assert line in kit.refused("pick", *words, expect=2)


# -- rules --------------------------------------------------------------------------------------


def test_the_shipped_rules_begin_a_teams_own(kit):
    """`--rules` prints a file that can be changed and put beside the register."""
    out, _ = kit.run("pick", "--rules")
    own = kit.folder / "uses.toml"
    own.write_text(out.replace("[belay]\n", "[belay]\nleast = { closed = 28 }\n"), "utf-8")
    rows = by_id(kit.json("pick", "--use", "belay"))
    assert ["closed strength is 27 kN, 28 kN or more is asked"] == rows["C-1"]["reasons"]
    _, err = kit.run("pick", "--use", "belay")
    assert "With the team's rules in" in err and "uses.toml" in err


def test_a_rules_file_is_named(kit):
    """Rules from elsewhere, and what is in force as JSON."""
    own = kit.folder / "ours.toml"
    own.write_text("[night-line]\none-of = ['NFPA G', 'UIAA']\n", "utf-8")
    kit.run("service", "C-5")
    rows = by_id(kit.json("pick", "--use", "night-line", "--rules-file", own))
    assert {"C-5"} == {id for id, row in rows.items() if row["qualifies"]}
    names = [row["use"] for row in kit.json("pick", "--rules", "--rules-file", own)]
    assert "night-line" in names and "belay" in names


@pytest.mark.parametrize("data", [b"[belay", b"\xff\xfe", b"[belay]\nfoo = 1", b"#" * 100_001])
def test_bad_rules_are_refused(kit, data):
    """One line with the file's name; nothing is picked by half of the rules."""
    (kit.folder / "uses.toml").write_bytes(data)
    assert "uses.toml" in kit.refused("pick", "--use", "belay", expect=2)


# -- the kit list -------------------------------------------------------------------------------


def pages(path):
    """The text of a PDF, read with a general library."""
    document = pypdfium2.PdfDocument(path)
    return "\n".join(page.get_textpage().get_text_bounded() for page in document)


def test_the_kit_list_is_printed(kit):
    """PDF and HTML to carry along, CSV and XLSX for the spreadsheet; margins and caution on it."""
    files = [kit.folder / f"kit.{form}" for form in ("pdf", "html", "csv", "xlsx")]
    words = [word for file in files for word in ("--to", file)]
    _, err = kit.run("pick", "--use", "life-support:2", "--load", "2 kN", "--name", "Gorge", *words)
    text = pages(files[0])
    assert "Gorge" in text and "life support: a person hangs on it" in text
    assert "A calculation aid only" in " ".join(text.split())
    rows = list(csv.reader(io.StringIO(files[2].read_text("utf-8-sig"), newline="")))
    ids = {row[0] for row in rows if row and row[0].startswith("C-")}
    assert {"C-1", "C-2"} == ids
    assert "C-1" in files[1].read_text("utf-8") and files[3].stat().st_size > 3000
    assert 4 == err.count(": 2 connectors")


def test_the_kit_list_shows_the_weakest_direction(kit):
    """27/8/7 under 2 kN: open leaves 3.50, closed keeps 10:1 (by hand)."""
    path = kit.folder / "kit.csv"
    kit.run("pick", "C-1", "--use", "belay", "--load", "2 kN", "--to", path)
    (row,) = (r for r in csv.reader(io.StringIO(path.read_text("utf-8-sig"))) if r[:1] == ["C-1"])
    assert {"open", "3.50"} <= set(row) and any("closed only" in cell for cell in row)


def test_a_list_is_not_written_over(kit):
    """An existing file is kept; it is refused before any work."""
    path = kit.folder / "kit.pdf"
    path.write_text("mine")
    line = kit.refused("pick", "--use", "gear", "--load", "1 kN", "--to", path, expect=2)
    assert "exists already" in line and "mine" == path.read_text()


# -- a rig's open places ------------------------------------------------------------------------


def test_a_rig_is_filled_from_the_register(kit):
    """An open place of a plan gets a connector that is fit for its use and keeps the ratio."""
    from stampreader.cli.rig_new import Ready, ready_text

    plan = kit.folder / "plan.toml"
    text = ready_text(Ready.TWO_LEG)
    plan.write_text(text.replace('{ figures = "27/8/7" }', '{ wanted = "belay" }'), "utf-8")
    out, _ = kit.run("rig", plan, "--fill")
    assert "C-1 Felsnase Pear" in out and "Open places" in out
    rows = kit.json("rig", plan, "--fill", "--ratio", "15", expect=1)
    (filled,) = (row for row in rows if row["row"] == "filled")
    assert ([], "belay") == (filled["chosen"], filled["empty"][0]["for"])
    plan.write_text(text.replace('{ figures = "27/8/7" }', '{ wanted = "picnic" }'), "utf-8")
    assert "no use 'picnic'" in kit.refused("rig", plan, "--fill", expect=2)

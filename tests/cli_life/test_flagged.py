"""A connector without any third-party mark is flagged wherever it appears."""

import pytest

FLAG = "no third-party mark"


@pytest.fixture
def bare(desk):
    """One that only its maker speaks for, one with a notified body's number."""
    desk.add("C-1", "23/7/6", "EN 12275:2013/B", in_service=400, to="Kit 1", maker="Felsnase",
             gate="screw gate")  # fmt: skip
    desk.add("C-2", "23/7/6", "CE 9123, EN 12275:2013/B", in_service=400, to="Kit 1",
             maker="Felsnase", gate="screw gate")  # fmt: skip
    return desk


WHERE = {
    "list": ["list"],
    "list as CSV": ["list", "--csv"],
    "show": ["show", "C-1"],
    "margin": ["margin", "C-1", "C-2", "--load", "1 kN"],
    "due": ["due"],
    "pick": ["pick", "--use", "gear", "--limit", "0"],
    "trace": ["trace", "--maker", "Felsnase"],
    "move": ["move", "C-1", "C-2", "--to", "Kit 2"],
    "inspect": ["inspect", "C-1", "C-2", "--rest-passes"],
    "quarantine": ["quarantine", "C-1", "C-2", "--why", "fall"],
}


@pytest.mark.parametrize("words", WHERE.values(), ids=WHERE)
def test_on_the_screen(bare, words):
    """The flag stands beside the one without, once, and not beside the other."""
    if words[0] in ("pick", "margin"):  # both bar what is overdue
        bare.run("inspect", "C-1", "C-2", "--rest-passes")
    out, _ = bare.run(*words)
    assert 1 == out.count(FLAG)


@pytest.mark.parametrize("words", [["list"], ["due"], ["trace", "--maker", "Felsnase"],
                                   ["margin", "C-1", "C-2", "--load", "1 kN"]])  # fmt: skip
def test_as_json(bare, words):
    """Under `remarks`."""
    if words[0] == "margin":
        bare.run("inspect", "C-1", "C-2", "--rest-passes")
    rows = bare.json(*words)
    assert [True, False] == [FLAG in row["remarks"] for row in rows]


def test_in_a_rig(bare):
    """A plan that uses it says so."""
    from stampreader.cli.rig_new import Ready, ready_text

    bare.run("inspect", "C-1", "--rest-passes")
    plan = bare.folder / "plan.toml"
    plan.write_text(
        ready_text(Ready.TWO_LEG).replace('{ figures = "27/8/7" }', '{ id = "C-1" }'), "utf-8"
    )
    assert FLAG in bare.run("rig", plan)[0]


def test_when_compared_with_a_photo(bare, photos):
    """`verify` tells it beside its answer."""
    path = photos("c1.jpg", ("23", "7", "6"), ("EN 12275:2013/B",))
    out, _ = bare.run("verify", path, "C-1")
    assert "matches" in out and FLAG in out


@pytest.mark.parametrize(
    "words", [["register"], ["due"], ["card", "C-1"], ["inspections"]], ids=lambda w: w[0]
)
def test_in_reports(bare, words):
    """On paper as well; the HTML is drawn from the same document as the PDF."""
    bare.run("inspect", "C-1", "--rest-passes") if words == ["inspections"] else None
    path = bare.folder / "report.html"
    bare.run("report", *words, "--to", path)
    text = path.read_text("utf-8").lower()
    assert FLAG in text.replace("\u00a0", " ").replace("&nbsp;", " ")

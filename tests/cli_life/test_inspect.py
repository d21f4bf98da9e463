"""Inspections on the command line: many at once, at the prompt, with photos."""

import sys
from datetime import date, timedelta

import pexpect
import pytest

from stampreader.words import Doubt


def history(desk, id):
    """Events of a connector, the last first."""
    return desk.json("show", id)[0]["history"][::-1]


def test_all_pass_but_the_named_ones(kit):
    """A whole kit in one command: one fails with its note and measurement, the rest pass."""
    out, _ = kit.run(
        "inspect", "--place", "Kit 1", "--rest-passes", "--who", "Bea",
        "--fail", "C-2=grooves: at the basket", "--measured", "C-2=groove: 1.4 mm", expect=1,
    )  # fmt: skip
    assert {"C-1": "in-service", "C-2": "quarantined", "C-3": "in-service"}.items() <= {
        id: state for id, (state, _) in kit.states().items()
    }.items()
    assert "C-2  fail (inspection failed: body: wear grooves (at the basket))" in out
    body = history(kit, "C-2")[0]["body"]
    assert {"groove": "1.4 mm"} == body["measured"]
    assert "measured" not in history(kit, "C-1")[0]["body"]


def test_points_that_do_not_apply_are_kept_so(kit):
    """A wire gate has no lock: those points are recorded as not applicable."""
    kit.run("inspect", "C-3", "--rest-passes")
    results = {p["point"]: p["result"] for p in history(kit, "C-3")[0]["body"]["points"]}
    assert 16 == len(results)
    assert {"lock: threads", "lock: self-locking", "lock: sleeve"} == {
        point for point, result in results.items() if result == "not applicable"
    }  # fmt: skip


def test_one_finding_for_all_and_another_for_one(kit):
    """What names one connector wins over what names all."""
    kit.run(
        "inspect", "C-1", "C-2", "--rest-passes", "--pass", "grooves: light", "--without", "marks",
        "--fail", "c-2=grooves: deep", "--measured", "play: 1 mm", expect=1,
    )  # fmt: skip
    first, second = (
        {p["point"]: (p["result"], p.get("note")) for p in history(kit, id)[0]["body"]["points"]}
        for id in ("C-1", "C-2")
    )
    groove = "body: wear grooves"
    assert (("pass", "light"), ("fail", "deep")) == (first[groove], second[groove])
    assert ("not applicable", None) == first["marks: legibility"]
    assert {"play": "1 mm"} == history(kit, "C-2")[0]["body"]["measured"]


def test_what_fails_may_be_retired_at_once(kit):
    """The same command retires what fails; the sound one stays."""
    kit.run("inspect", "C-1", "C-2", "--rest-passes", "--fail", "C-2=cracks",
            "--retire", "cracked at the nose", expect=1)  # fmt: skip
    states = kit.states()
    assert ("in-service", "retired") == (states["C-1"][0], states["C-2"][0])


def test_json_holds_points_and_state(kit):
    """One object an event, with the points, what was measured, and the next inspection."""
    (row,) = kit.json("inspect", "C-1", "--rest-passes", "--measured", "groove: 0.2 mm",
                      "--on", (date.today() - timedelta(days=3)).isoformat())  # fmt: skip
    assert ("pass", "in-service", {"groove": "0.2 mm"}, 16) == (
        row["result"], row["state"], row["measured"], len(row["points"]),
    )  # fmt: skip
    assert row["due_on"] > date.today().isoformat()


REFUSED = {
    "points without a result": (["C-1"], 2, "points have no result (cracks, shape,"),
    "an unknown point": (["C-1", "--rest-passes", "--fail", "paint"], 2, "no point 'paint'"),
    "another connector": (["C-1", "--rest-passes", "--fail", "C-3=cracks"], 2, "C-3 is not among"),
    "half a measurement": (["C-1", "--rest-passes", "--measured", "groove"], 2, "no measurement"),
    "a photo of which": (["C-1", "C-2", "--rest-passes", "--photo", "a.jpg"], 2, "which connector"),
    "a photo that is not there": (["C-1", "--rest-passes", "--photo", "no.jpg"], 1, "no.jpg"),
    "tomorrow": (
        ["C-1", "--rest-passes", "--on", (date.today() + timedelta(days=1)).isoformat()], 1, "future",
    ),
    "unknown": (["C-9", "--rest-passes"], 1, "no connector C-9"),
}  # fmt: skip


@pytest.mark.parametrize(("words", "status", "line"), REFUSED.values(), ids=REFUSED)
def test_refusals(kit, words, status, line):
    """One line each, the right status, nothing recorded."""
    before = history(kit, "C-1")
    assert line in kit.refused("inspect", *words, expect=status)
    assert before == history(kit, "C-1")


def test_a_retired_one_is_not_inspected_back_to_life(kit):
    """Refused by name; of a kit it is simply left out."""
    kit.run("retire", "C-2", "--why", "worn")
    assert "cannot be inspected" in kit.refused("inspect", "C-2", "--rest-passes")
    out, _ = kit.run("inspect", "--place", "Kit 1", "--rest-passes")
    assert ["C-1", "C-3"] == [line[:3] for line in out.splitlines() if line.startswith("C-")]


def test_the_points_are_listed(kit):
    """The check list, for a connector with what does not apply."""
    out, _ = kit.run("inspect", "--points")
    assert 16 == len(out.splitlines()) and "gate: closing" in out and "closes by itself" in out
    rows = kit.json("inspect", "C-3", "--points")
    assert {"sleeve", "threads", "locks"} == {r["point"] for r in rows if not r["applies"]}


# -- at the prompt ------------------------------------------------------------------------------


def prompt(desk, *words):
    """The command at a real terminal."""
    return pexpect.spawn(
        sys.executable,
        ["-m", "stampreader", "inspect", *words, "--who", "Bea", "--register", str(desk.register)],
        encoding="utf-8", timeout=60, dimensions=(50, 120), echo=False,
    )  # fmt: skip


def test_points_are_asked_one_by_one(kit):
    """Each point that applies is asked; answers that are none are asked again; b goes back."""
    child = prompt(kit, "C-3", "--pass", "history")
    answers = ["p", "nonsense", "f bent a little", "b", "p", "p light", "p", "p", "p", "p", "p",
               "p", "f weak", "p", "p"]  # fmt: skip
    for answer in answers:
        child.expect_exact("? ")
        child.sendline(answer)
    child.expect(pexpect.EOF)
    child.close()
    assert 1 == child.exitstatus
    body = history(kit, "C-3")[0]["body"]
    points = {p["point"]: (p["result"], p.get("note")) for p in body["points"]}
    assert "Bea" == history(kit, "C-3")[0]["who"]
    assert ("pass", None) == points["body: deformation"]
    assert ("pass", "light") == points["body: wear grooves"]
    assert ("fail", "weak") == points["gate: spring"]
    assert "fail" == body["result"]


@pytest.mark.parametrize("how", ["q", "\x04", "\x03"], ids=["q", "end of input", "interrupt"])
def test_stopping_records_nothing(kit, how):
    """Stopped in the middle: exit status 130, and no half inspection in the history."""
    before = history(kit, "C-3")
    child = prompt(kit, "C-3")
    child.expect_exact("? ")
    child.sendline("p")
    child.expect_exact("? ")
    child.sendline(how) if how == "q" else child.send(how)
    child.expect(pexpect.EOF)
    child.close()
    assert 130 == child.exitstatus
    assert before == history(kit, "C-3")


# -- photos -------------------------------------------------------------------------------------


def test_a_photo_that_matches_passes_two_points(kit, photos):
    """It is kept with its crop and verdict, and says that the marks are legible and the same."""
    path = photos("c1.jpg", ("27", "8", "7"), ("CE 9123", "EN 12275:2013/H"))
    kit.run("inspect", "C-1", "--rest-passes", "--photo", path)
    body = history(kit, "C-1")[0]["body"]
    points = {p["point"]: (p["result"], p.get("note")) for p in body["points"]}
    assert ("pass", "read on the photo") == points["marks: legibility"]
    assert ("pass", "the photo matches") == points["marks: identity"]
    assert "matches" == body["read"][0]["verdict"]
    kit.run("show", "C-1", "--pictures", kit.folder / "pictures")
    assert 1 == len(list((kit.folder / "pictures").iterdir()))
    assert kit.run("check")[0] == "The register is whole.\n"


def test_a_stamp_that_differs_is_a_finding(kit, photos):
    """Another figure than in the register fails the inspection and quarantines."""
    path = photos("c1.jpg", ("22", "8", "7"), ("CE 9123", "EN 12275:2013/H"))
    out, _ = kit.run("inspect", "C-1", "--rest-passes", "--photo", path, expect=1)
    assert "marks: identity (on the photo closed 22 instead of 27)" in out
    assert "quarantined" == kit.states()["C-1"][0]


def test_a_stamp_that_cannot_be_read_is_a_finding(kit, photos):
    """Nothing legible on the photo fails the point of the marks."""
    path = photos("c1.jpg")
    out, _ = kit.run("inspect", "C-1", "--rest-passes", "--photo", path, expect=1)
    assert "marks: legibility (on the photo" in out


def test_a_figure_that_is_worn_away_is_a_finding(kit, photos):
    """Closed and open are read, cross is not seen: the marks are not legible."""
    path = photos("c1.jpg", ("27", None, "7"), ("CE 9123", "EN 12275:2013/H"))
    out, _ = kit.run("inspect", "C-1", "--rest-passes", "--photo", path, expect=1)
    assert "marks: legibility (on the photo cross cannot be read)" in out


def test_what_a_photo_leaves_in_doubt_is_not_passed_unseen(kit, photos):
    """A reader's doubt neither quarantines nor passes: the person looks and says."""
    doubt = (Doubt.READERS_DISAGREE,)
    path = photos("c1.jpg", ("27", "8", "7"), ("CE 9123", "EN 12275:2013/H"), doubts=doubt)
    line = kit.refused("inspect", "C-1", "--rest-passes", "--photo", path, expect=2)
    assert "two readers disagree" in line and "--pass marks or --fail marks" in line
    kit.run("inspect", "C-1", "--rest-passes", "--photo", path, "--pass", "marks: 27 8 7 by eye")
    body = history(kit, "C-1")[0]["body"]
    assert ("pass", "cannot tell") == (body["result"], body["read"][0]["verdict"])


def test_a_person_may_say_otherwise(kit, photos):
    """Who has read the stamp by eye says so; the photo's verdict stays in the record."""
    path = photos("c1.jpg")
    kit.run("inspect", "C-1", "--rest-passes", "--photo", path, "--pass", "marks: read by eye")
    body = history(kit, "C-1")[0]["body"]
    assert ("pass", "cannot tell") == (body["result"], body["read"][0]["verdict"])


def test_photos_of_several_connectors(kit, photos):
    """Each photo is named with its connector."""
    first = photos("c1.jpg", ("27", "8", "7"), ("CE 9123", "EN 12275:2013/H"))
    second = photos("c2.jpg", ("24", "8", "7"))
    kit.run("inspect", "C-1", "C-2", "--rest-passes", "--photo", f"C-1={first}",
            "--photo", f"C-2={second}")  # fmt: skip
    assert ["matches", "matches"] == [
        history(kit, id)[0]["body"]["read"][0]["verdict"] for id in ("C-1", "C-2")
    ]


def test_a_photo_is_evidence_of_one_connector(kit, photos):
    """The same photo for a second connector is refused; nothing is recorded."""
    path = photos("c1.jpg", ("27", "8", "7"), ("CE 9123", "EN 12275:2013/H"))
    kit.run("inspect", "C-1", "--rest-passes", "--photo", path)
    line = kit.refused("inspect", "C-2", "--rest-passes", "--photo", path, expect=2)
    assert "is evidence of C-1 already" in line


def test_a_photo_that_cannot_be_read_stops_the_inspection(kit, photos):
    """A damaged file is no finding about the connector: one line, nothing recorded."""
    before = history(kit, "C-1")
    path = photos("c1.jpg", failure="c1.jpg is truncated")
    assert "c1.jpg is truncated" in kit.refused("inspect", "C-1", "--rest-passes", "--photo", path)
    assert before == history(kit, "C-1")

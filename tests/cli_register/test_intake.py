"""The main job at the real prompt: photos in, confirmed connectors out."""

import signal
import time

import pexpect
import pytest

from stampreader.register import Life, check_register, find_connector, list_connectors, waiting

ORDER = "count=40; maker=Felsnase; model=Oval; figures=27/8/7; marks=CE 9123"


def test_a_delivery_of_forty_with_one_odd_one_out(bench):
    """39 agree and take one answer; the planted odd one is asked alone and told apart."""
    bench.delivery(39)
    bench.photo(
        "040.jpg",
        {"closed": [22, "sure"], "cross": [8, "sure"], "open": [7, "sure"], "marks": ["CE 9123"]},
    )
    child = bench.terminal("intake", bench.photos, "--delivery", "Spring", "--expect", ORDER)
    shown = bench.answer(child, "y", "y")
    assert 0 == child.exitstatus
    assert "39 connectors agree" in shown
    assert "Against the order: closed: ordered 27, arrived 22." in shown
    assert "It stands apart: closed 22 where 39 have 27." in shown
    assert "confirmed: C-0001 to C-0039 (39)" in shown
    rows = bench.json("list", "--delivery", "spring")
    assert 40 == len(rows)
    assert {27: 39, 22: 1} == {n: sum(r["closed_kN"] == n for r in rows) for n in (27, 22)}
    assert {("Felsnase", "Oval", "registered", False)} == {
        (r["maker"], r["model"], r["state"], r["by_hand"]) for r in rows
    }
    with bench.open() as register:
        assert [] == list(check_register(register))


def test_every_key(bench):
    """Help, evidence, take out, correct, fields, skip, set aside, undo, stop: all at the prompt."""
    bench.delivery(4)
    bench.photo("009.jpg")
    child = bench.terminal("intake", bench.photos, "--delivery", "Spring", "--who", "Ada Quell")
    shown = bench.answer(
        child,
        "?",  # keys
        "v",  # all evidence on one sheet
        "v 2",  # one picture
        "t 2",  # take number 2 out
        "y",  # the other three
        "f closed 26",  # the one taken out
        "e maker=Felsnase; batch=24A",
        "y",
        "s",  # the blank one waits
    )
    assert "undo the latest answer" in shown
    assert "all.jpg" in shown and "2-1.jpg" in shown
    assert "typed; read was 27 kN" in shown
    assert "confirmed: C-0001, C-0002, C-0003" in shown
    assert "1 waiting. Confirm" in shown
    corrected = bench.json("show", "C-0004")[0]
    assert (26, "Felsnase", "24A") == (
        corrected["closed_kN"],
        corrected["maker"],
        corrected["batch"],
    )
    (event,) = corrected["history"]
    assert "27" == event["body"]["read"][0]["raw"]["figures"]["closed"]["kN"]
    assert "Ada Quell" == event["who"]
    child = bench.terminal("confirm")
    shown = bench.answer(child, "y", "25/-/-", "y")
    assert "cannot confirm here. Type the figures first." in shown
    row = bench.json("show", "C-0005")[0]
    assert (25, None, None) == (row["closed_kN"], row["cross_kN"], row["open_kN"])


def test_undo_and_set_aside_at_the_prompt(bench):
    """Undo takes back the entry and asks again; setting aside takes one off the list."""
    bench.delivery(2)
    bench.photo("009.jpg", {"closed": [22, "ask", "ONE_READER"]})
    child = bench.terminal("intake", bench.photos, "--delivery", "Spring")
    shown = bench.answer(child, "y", "u", "y", "x photo of a key ring")
    assert "undone: C-0001, C-0002; asked again" in shown
    assert 2 == shown.count("2 connectors agree")
    assert ["C-0001", "C-0002"] == [r["id"] for r in bench.json("list")]
    with bench.open() as register:
        assert [] == waiting(register)
        states = [r["life"] for r in register.rows("SELECT life FROM connectors")]
        assert 2 == states.count(Life.WITHDRAWN)


def test_stop_today_go_on_tomorrow(bench):
    """Stopping keeps what was confirmed; `confirm` goes on where it stopped, reading nothing."""
    bench.delivery(2)
    bench.delivery(1, first=5, open=[6, "sure"])
    child = bench.terminal("intake", bench.photos, "--delivery", "Spring")
    shown = bench.answer(child, "y", "q")
    assert "stopped; what was confirmed is stored" in shown
    assert "1 waiting" in shown
    child = bench.terminal("confirm", "--delivery", "Spring")
    bench.answer(child, "y")
    assert [7, 7, 6] == [r["open_kN"] for r in bench.json("list")]
    assert 3 == len(bench.read_photos())


def test_the_end_of_input_stops(bench):
    """Ctrl-D stops like q: nothing is confirmed by it."""
    bench.delivery(1)
    child = bench.terminal("intake", bench.photos, "--delivery", "Spring")
    child.expect_exact("\n> ")
    child.sendeof()
    child.expect(pexpect.EOF)
    child.close()
    assert 0 == child.exitstatus
    assert [] == bench.json("list")


def test_ctrl_c_keeps_what_is_stored(bench):
    """Ctrl-C at the prompt ends with 130 and says that what was stored is kept."""
    bench.delivery(1)
    bench.delivery(1, first=2, open=[6, "sure"])
    child = bench.terminal("intake", bench.photos, "--delivery", "Spring")
    child.expect_exact("\n> ")
    child.sendline("y")
    child.expect_exact("\n> ")
    child.sendintr()
    child.expect(pexpect.EOF)
    child.close()
    assert 130 == child.exitstatus
    assert "kept" in child.before
    assert 1 == len(bench.json("list"))


def test_without_a_terminal_everything_waits(bench):
    """Nothing is entered unconfirmed; the command says how to confirm."""
    bench.delivery(3)
    done = bench.run("intake", bench.photos, "--delivery", "Spring")
    assert 'stampreader confirm --delivery "Spring"' in done.stderr
    assert [] == bench.json("list")
    done = bench.run("confirm", expect=1)
    assert "3 waiting" in done.stderr
    rows = bench.json("confirm")
    assert [("waiting", "sure", 27)] * 3 == [
        (r["status"], r["outcome"], r["closed_kN"]) for r in rows
    ]


def test_nothing_waits(bench):
    """Confirming with nothing to confirm says so and is no error."""
    bench.run("add", "--figures", "27/8/7")
    assert "Nothing waits" in bench.run("confirm").stderr


def test_the_same_photos_twice(bench):
    """Photos known by content are not read or entered again, whatever they are called."""
    first, *_ = bench.delivery(2)
    bench.answer(bench.terminal("intake", bench.photos, "--delivery", "Spring"), "y")
    copy = bench.photos / "copy.jpg"
    copy.write_bytes(first.read_bytes())
    done = bench.run("intake", bench.photos, "--delivery", "Autumn")
    assert "C-0001 was entered from it" in done.stderr
    assert "copy.jpg is the same photo as" in done.stderr
    assert "0 photos read" in done.stderr
    assert 2 == len(bench.json("list"))
    assert 2 == len(bench.read_photos())


def test_killed_while_reading(bench):
    """SIGKILL after three photos: the run resumes, reads only the rest, and doubles nothing."""
    bench.delivery(6)
    bench.script["die_after"] = 3
    child = bench.terminal("intake", bench.photos, "--delivery", "Spring")
    child.expect(pexpect.EOF)
    child.close()
    assert signal.SIGKILL == child.signalstatus
    del bench.script["die_after"]
    shown = bench.answer(bench.terminal("intake", bench.photos, "--delivery", "Spring"), "y")
    assert "3 photos read, 3 read before" in shown
    assert "6 connectors agree" in shown
    assert 6 == len(bench.read_photos()) == len(bench.json("list"))


def test_a_new_reader_version_reads_again(bench):
    """What another version of a reader saw is not taken for this one's reading."""
    bench.delivery(2)
    bench.script["die_after"] = 1
    bench.terminal("intake", bench.photos, "--delivery", "Spring").expect(pexpect.EOF)
    del bench.script["die_after"]
    bench.script["version"] = "2"
    bench.run("intake", bench.photos, "--delivery", "Spring")
    assert ["001.jpg", "001.jpg", "002.jpg"] == bench.read_photos()


@pytest.mark.parametrize("answers", [1, 2, 3])
def test_killed_at_the_prompt(bench, answers):
    """SIGKILL right after an acknowledgement: every acknowledged decision is there, none twice,
    and `confirm` goes on with the rest."""
    for number in range(1, 6):
        bench.delivery(2, first=number * 10, closed=[20 + number, "sure"])
    child = bench.terminal("intake", bench.photos, "--delivery", "Spring")
    for _ in range(answers):
        child.expect_exact("\n> ")
        child.sendline("y")
        child.expect("confirmed: C-")
    child.kill(signal.SIGKILL)
    child.expect(pexpect.EOF)
    child.close()
    with bench.open() as register:
        assert [] == list(check_register(register))
        assert 2 * answers == len(list_connectors(register))
        assert 10 - 2 * answers == len(waiting(register))
    bench.answer(bench.terminal("confirm"), *["y"] * (5 - answers))
    rows = bench.json("list")
    assert [f"C-{n:04d}" for n in range(1, 11)] == [r["id"] for r in rows]
    assert [21, 21, 22, 22, 23, 23, 24, 24, 25, 25] == sorted(r["closed_kN"] for r in rows)


def test_confirm_undo_from_yesterday(bench):
    """`confirm --undo` takes back the latest decision of an earlier sitting and asks again."""
    bench.delivery(2)
    bench.answer(bench.terminal("intake", bench.photos, "--delivery", "Spring"), "y")
    shown = bench.answer(bench.terminal("confirm", "--undo"), "q")
    assert "undone: C-0001, C-0002" in shown
    assert [] == bench.json("list")


def test_several_photos_and_several_connectors(bench):
    """Two photos a connector, and one photo with two connectors."""
    front = {"closed": [27, "sure"], "cross": [8, "sure"], "open": [7, "sure"]}
    bench.photo("1.jpg", front)
    bench.photo("2.jpg", {"marks": ["CE 9123"], "serial": "A1"})
    bench.run("intake", bench.photos, "--delivery", "Pairs", "--photos-per-connector", "2")
    (row,) = bench.json("confirm", "--delivery", "Pairs")
    assert (27, ["CE 9123"], "A1", 2) == (
        row["closed_kN"],
        row["marks"],
        row["serial"],
        len(row["photos"]),
    )
    bench.photo("3.jpg", front, {**front, "closed": [22, "sure"]})
    bench.run("intake", bench.photos, "--delivery", "Table")
    assert [27, 22] == [r["closed_kN"] for r in bench.json("confirm", "--delivery", "Table")]


def test_labels(bench):
    """A label in the photo gives the id; a label already in the register leads to `verify`."""
    bench.photo("1.jpg", {"closed": [27, "sure"]}, labels=["STAMPREADER:KIT-7"])
    bench.photo("2.jpg", {"closed": [27, "sure"]}, labels=["https://maker.example/x"])
    bench.answer(bench.terminal("intake", bench.photos, "--delivery", "Spring"), "y")
    assert ["C-0001", "KIT-7"] == [r["id"] for r in bench.json("list")]
    bench.photo("3.jpg", {"closed": [27, "sure"]}, labels=["KIT-7"])
    done = bench.run("intake", bench.photos / "3.jpg", "--delivery", "Autumn")
    assert "label KIT-7 is in the register already" in done.stderr
    assert "stampreader verify" in done.stderr


def test_a_photo_that_cannot_be_read(bench):
    """One bad photo is told in a line and does not stop the others; the exit status is 1."""
    bench.delivery(2)
    bench.photo("bad.jpg", error="cannot read bad.jpg: it is cut short. Take the photo again.")
    done = bench.run("intake", bench.photos, "--delivery", "Spring", expect=1)
    assert "it is cut short" in done.stderr
    assert "2 connectors to confirm" in done.stderr


def test_the_order_is_kept(bench):
    """The order given at intake is compared again when confirming goes on later."""
    bench.delivery(2)
    bench.run("intake", bench.photos, "--delivery", "Spring", "--expect", "count=3; marks=UIAA")
    done = bench.run("confirm", expect=1)
    assert "count: ordered 3, arrived 2" in done.stdout
    assert "mark: ordered UIAA, arrived CE 9123  (2 connectors)" in done.stdout


@pytest.mark.parametrize(
    "expect", ["forty", "count=x", "marks=shiny", "figures=27/8"], ids=lambda text: text
)
def test_an_order_that_is_not_understood(bench, expect):
    """Wrong usage: exit 2, one line, nothing read."""
    bench.delivery(1)
    done = bench.run("intake", bench.photos, "--delivery", "S", "--expect", expect, expect=2)
    assert 1 == len(done.stderr.strip().splitlines())
    assert [] == bench.read_photos()


def test_another_window_decided_meanwhile(bench):
    """Two windows on the same delivery: the second is told and enters nothing twice."""
    bench.delivery(2)
    bench.run("intake", bench.photos, "--delivery", "Spring")
    first, second = bench.terminal("confirm"), bench.terminal("confirm")
    for child in (first, second):
        child.expect_exact("\n> ")
    first.sendline("y")
    first.expect(pexpect.EOF)
    second.sendline("y")
    second.expect("was decided meanwhile")
    second.expect(pexpect.EOF)
    assert 2 == len(bench.json("list"))


def test_evidence_is_what_was_seen(bench, tmp_path):
    """The evidence picture kept with a connector is the crop of its own photo, byte for byte."""
    paths = bench.delivery(3)
    bench.answer(bench.terminal("intake", bench.photos, "--delivery", "Spring"), "y")
    bench.run("show", "C-0002", "--pictures", tmp_path / "out")
    assert paths[1].read_bytes() == (tmp_path / "out" / "C-0002-1.jpg").read_bytes()
    with bench.open() as register:
        assert 1 == len(find_connector(register, "C-0002").photos)


def test_two_hundred_are_asked_quickly(bench):
    """With 200 waiting connectors of ten kinds each question appears within a second."""
    for kind in range(10):
        bench.delivery(20, first=kind * 20 + 1, closed=[20 + kind, "sure"])
    bench.run("intake", bench.photos, "--delivery", "Spring")
    child = bench.terminal("confirm")
    child.expect_exact("\n> ")
    for _ in range(9):
        start = time.monotonic()
        child.sendline("y")
        child.expect_exact("\n> ")
        assert time.monotonic() - start < 1.5
    child.sendline("y")
    child.expect(pexpect.EOF)
    assert 200 == len(bench.json("list"))

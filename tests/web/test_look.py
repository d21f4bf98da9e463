"""Looking a connector up: by its label in a photo, by its id; its state and its margin."""

from datetime import UTC, date, datetime, timedelta

import cv2
import numpy as np
import pytest
import segno
from drawn import Clock, jpeg
from page_bench import enter, press, record, until

from stampreader.paper import label_text
from stampreader.register import Kind


def label_photo(tmp_path, *ids):
    """A photo of labels, tilted, on a grey bench."""
    canvas = np.full((900, 1200, 3), 120, np.uint8)
    for number, id in enumerate(ids):
        place = tmp_path / f"label-{number}.png"
        segno.make(label_text(id), error="m", micro=False).save(str(place), scale=7, border=4)
        code = cv2.cvtColor(cv2.imread(str(place), cv2.IMREAD_GRAYSCALE), cv2.COLOR_GRAY2BGR)
        high, wide = code.shape[:2]
        canvas[200 : 200 + high, 150 + 500 * number : 150 + 500 * number + wide] = code
    turn = cv2.getRotationMatrix2D((600, 450), 11, 1)
    canvas = cv2.warpAffine(canvas, turn, (1200, 900), borderValue=(120, 120, 120))
    place = tmp_path / "labels.jpg"
    place.write_bytes(jpeg(cv2.GaussianBlur(canvas, (3, 3), 0)))
    return place


def test_a_label_in_a_photo_leads_to_the_record(bench, window, tmp_path, picture):
    """The QR code of a label, photographed, opens the record of its connector."""
    enter(bench, maker="Felsnase")
    with bench.running(phone=True) as program:
        phone = window(program.phone, phone=True)
        phone.tap("nav >> text=Look up")
        phone.set_input_files("#label", label_photo(tmp_path, "C-0001"))
        until(phone, "C-0001")
        assert "Felsnase" in phone.inner_text(".facts")
        picture(phone, "phone-record")


@pytest.mark.parametrize(
    ("ids", "told"),
    [((), "No label was found"), (("C-0001", "C-0002"), "Several labels are in the photo")],
    ids=["none", "two"],
)
def test_no_label_or_two_are_told(bench, window, tmp_path, ids, told):
    """Without one clear label the page says what to do, and looks nothing up."""
    enter(bench)
    with bench.running() as program:
        page = window(program.laptop, allow=("422",))
        press(page, "l")
        page.set_input_files("#label", label_photo(tmp_path, *ids))
        until(page, told, "[role=alert]")


def test_a_label_chosen_before_the_script_runs(bench, window, tmp_path):
    """A photo chosen while the script is still on its way is sent all the same."""
    enter(bench)
    with bench.running() as program:
        page = window(program.laptop)
        held = []
        page.route("**/page.js*", lambda route: held.append(route), times=1)
        page.goto(program.laptop.split("/open")[0] + "/look", wait_until="commit")
        page.set_input_files("#label", label_photo(tmp_path, "C-0001"))
        while not held:
            page.wait_for_timeout(50)
        held.pop().continue_()
        until(page, "C-0001")


def test_one_without_a_third_party_mark_is_flagged(bench, window):
    """The record says plainly that nobody but the maker speaks for a connector; else it is silent."""
    enter(bench)
    enter(bench, id="C-0002", marks=("CE 9123", "EN 362:2004/B"))
    with bench.running() as program:
        page = window(program.laptop)
        for id, flagged in (("C-0001", True), ("C-0002", False)):
            page.goto(program.laptop.split("/open")[0] + f"/look?id={id}")
            until(page, id)
            assert flagged == ("No third-party mark" in page.inner_text("main"))


def test_an_id_is_typed(bench, window):
    """A typed id opens the record, in either case; an unknown or impossible one is told."""
    enter(bench)
    with bench.running() as program:
        page = window(program.laptop, allow=("404", "422"))
        press(page, "l")
        for typed, told in (("C-9999", "No connector C-9999"), ("../etc", "That cannot be an id")):
            page.fill("input[name=id]", typed)
            page.keyboard.press("Enter")
            until(page, told, "[role=alert]")
        page.fill("input[name=id]", "c-0001")
        page.keyboard.press("Enter")
        until(page, "C-0001")


TODAY = (datetime.now(UTC) - timedelta(days=1)).date().isoformat()
STATES = {
    "in service": ([(Kind.PUT_IN_SERVICE, TODAY)], "fit", "In service"),
    "overdue": ([(Kind.PUT_IN_SERVICE, "2023-01-10")], "overdue", "Overdue"),
    "quarantined": ([(Kind.QUARANTINED, "2025-03-01")], "stop", "Quarantined"),
    "retired": ([(Kind.RETIRED, "2025-03-01")], "gone", "Retired"),
    "lost": ([(Kind.LOST, "2025-03-01")], "lost", "Lost"),
    "new": ([], "new", "Not in service"),
}


def test_states_are_told_apart_without_colour(bench, window, picture):
    """Each state has its own sign, its own words and its own frame; colour is not needed."""
    bench.clock = Clock(datetime.now(UTC) - timedelta(hours=1))
    for number, (events, _, _) in enumerate(STATES.values(), 1):
        uid = enter(bench, id=f"C-{number}")
        for kind, day in events:
            record(bench, kind, uid, day, reason="a test")
    looks = set()
    with bench.running() as program:
        page = window(program.laptop)
        for number, (_, sign, headline) in enumerate(STATES.values(), 1):
            page.goto(program.laptop.split("/open")[0] + f"/look?id=C-{number}")
            assert headline == page.inner_text(".headline")
            assert 1 == page.locator(f".standing .s-{sign}").count()
            looks.add(page.inner_html(f"#s-{sign}"))
            picture(page, f"record-{sign}")
    assert len(STATES) == len(looks)


def test_due_is_counted_from_the_interval():
    """A year after its last day in service it is due; 30 days before, soon due; before that, fit."""
    from stampreader.register import Connector, Intervals, Life, Settings
    from stampreader.web.show_record import state_shown

    connector = Connector("u", "C-1", Life.IN_SERVICE, due_from_on="2024-03-10")
    said = [
        state_shown(connector, Intervals(), Settings(), day).sign
        for day in (date(2025, 2, 1), date(2025, 2, 20), date(2025, 3, 10), date(2025, 3, 11))
    ]
    assert ["fit", "soon", "soon", "overdue"] == said


def test_the_slider_gives_the_margin(bench, window, picture):
    """27/8/7 at 10:1: 2.7 kN are allowed closed and no more; 0.7 kN with the gate open.

    Source: 10:1 of 27, 8 and 7 kN is 2.7, 0.8 and 0.7 kN by division.
    """
    enter(bench)
    with bench.running() as program:
        page = window(program.laptop)
        page.goto(program.laptop.split("/open")[0] + "/look?id=C-0001")
        for load, verdicts in (
            ("0.7", ["allowed", "allowed", "allowed"]),
            ("0.8", ["allowed", "allowed", "not allowed"]),
            ("2.7", ["allowed", "not allowed", "not allowed"]),
            ("2.8", ["not allowed", "not allowed", "not allowed"]),
        ):
            page.fill("#slider", load)
            page.wait_for_selector(f"caption:has-text('{load} kN')")
            found = page.locator(".margin tbody td:last-child").all_inner_texts()
            assert verdicts == [text.strip() for text in found]
        assert "A calculation aid only." in page.inner_text(".middle > .caution")
        page.locator("#slider").focus()
        page.keyboard.press("ArrowRight")
        page.wait_for_selector("caption:has-text('2.9 kN')")
        picture(page, "record-margin")


def test_unknown_figures_are_not_allowed(bench, window):
    """A direction without a figure is unknown and not allowed; a quarantined one is barred."""
    uid = enter(bench, cross_kN=None)
    record(bench, Kind.QUARANTINED, uid, "2025-03-01", reason="a groove")
    with bench.running() as program:
        page = window(program.laptop)
        page.goto(program.laptop.split("/open")[0] + "/look?id=C-0001&load=0.5")
        row = page.locator(".margin tbody tr").nth(1).inner_text()
        assert "unknown, not allowed" in row and "nothing" in row
        assert "a margin does not change that" in page.inner_text("#margin .notice")
        assert "a groove" in page.inner_text(".standing")

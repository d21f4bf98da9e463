"""The phone as camera, and everything by touch on a small screen."""

import re

import plug
import pytest
from page_bench import listening, until

from stampreader.register import list_connectors, waiting

SHOT = "input#photo"


def send(page, place):
    """Take a photo with the camera page, and wait for what comes back."""
    before = page.locator(".result").count()
    page.set_input_files(SHOT, place)
    page.wait_for_function("(n) => document.querySelectorAll('.result').length > n", arg=before)
    return page.locator(".result").first.inner_text()


def test_a_photo_is_read_and_appears_on_the_laptop(bench, window, camera_photo, picture):
    """Photo after photo from the phone: the figures come back in words, the laptop shows them."""
    with bench.running("--delivery", "Spring", phone=True) as program:
        laptop = window(program.laptop)
        until(laptop, "Nothing waits in Spring")
        phone = window(program.phone, phone=True)
        told = send(phone, camera_photo(1, plug.SURE))
        assert re.search(r"27 / 8 / 7\s*,\s*sure", told)
        until(laptop, "One connector")
        assert "27" in laptop.inner_text(".f-closed .value")
        send(phone, camera_photo(2, plug.SURE))
        picture(phone, "phone-camera")
        until(laptop, "2 connectors agree")


def test_the_first_photo_appears_on_an_empty_laptop(bench, window, camera_photo):
    """Nothing waits, no delivery was named: the first photo brings the review up by itself."""
    with bench.running(phone=True) as program:
        laptop = window(program.laptop)
        until(laptop, "Nothing waits")
        send(window(program.phone, phone=True), camera_photo(1, plug.SURE))
        until(laptop, "One connector")


def test_a_bad_photo_says_what_to_do(bench, window, camera_photo):
    """Nothing read: the phone tells what to do better; another photo of it makes it whole."""
    with bench.running(phone=True) as program:
        phone = window(program.phone, phone=True)
        told = send(phone, camera_photo(1, plug.NOTHING))
        assert "not read" in told and "towards the light" in told
        with phone.expect_file_chooser() as chooser:
            phone.tap("[data-onto]")
        chooser.value.set_files(camera_photo(2, plug.SURE))
        phone.wait_for_function("() => document.querySelectorAll('.result').length > 1")
        assert "27 / 8 / 7" in phone.locator(".result").first.inner_text()
    with bench.open() as book:
        (arrival,) = waiting(book)
        assert 2 == len(arrival.seen)


def test_a_result_does_not_grow_under_the_thumb(bench, window, camera_photo):
    """A result comes with its picture, so that its button stays where it was first seen."""
    with bench.running(phone=True) as program:
        phone = window(program.phone, phone=True)
        held = []
        phone.route("**/crop/**", lambda route: held.append(route))
        phone.set_input_files(SHOT, camera_photo(1, plug.NOTHING))
        while not held:
            phone.wait_for_timeout(50)
        phone.wait_for_timeout(300)
        assert 0 == phone.locator(".result").count()
        held.pop().continue_()
        phone.wait_for_selector(".result")
        assert phone.eval_on_selector(".result img", "(image) => image.complete")
        assert not held


def test_a_lost_picture_does_not_hold_the_result_back(bench, window, camera_photo):
    """The words and the button come even where the picture cannot be had."""
    with bench.running(phone=True) as program:
        phone = window(program.phone, phone=True, allow=("ERR_FAILED",))
        phone.route("**/crop/**", lambda route: route.abort())
        assert "not read" in send(phone, camera_photo(1, plug.NOTHING))


def test_the_same_photo_twice_is_told(bench, window, camera_photo):
    """The very same file again is known by its content."""
    with bench.running(phone=True) as program:
        phone = window(program.phone, phone=True)
        send(phone, camera_photo(1, plug.SURE))
        assert "This very photo is known: it waits" in send(phone, camera_photo(1, plug.SURE))
    with bench.open() as book:
        assert 1 == len(waiting(book))


@pytest.mark.parametrize(
    ("width", "told"),
    [(plug.CRASH, "crashed"), (plug.HANG, "longer than"), (plug.RAISE, "See the terminal")],
    ids=["decoder crashes", "decoder hangs", "reader fails"],
)
def test_a_photo_that_breaks_the_reader_takes_only_itself(bench, window, camera_photo, width, told):
    """A worker lost to one photo is replaced; the next photo is read."""
    with bench.running(phone=True, RUNNER_SECONDS="3") as program:
        phone = window(program.phone, phone=True)
        assert told in send(phone, camera_photo(1, width))
        assert "27 / 8 / 7" in send(phone, camera_photo(2, plug.SURE))


def test_photos_are_kept_by_content(bench, window, camera_photo):
    """The photo is kept in the folder asked for, byte for byte, under a name made here."""
    with bench.running("--photos", str(bench.folder / "kept"), phone=True) as program:
        phone = window(program.phone, phone=True)
        place = camera_photo(1, plug.SURE)
        send(phone, place)
    (kept,) = (bench.folder / "kept").iterdir()
    assert re.fullmatch(r"[0-9a-f]{20}\.jpg", kept.name)
    assert place.read_bytes() == kept.read_bytes()
    with bench.open() as book:
        assert str(kept) == waiting(book)[0].seen[0].path


def test_forty_are_confirmed_by_touch(bench, window, picture):
    """The whole review on a phone-sized screen by tapping alone; every crop was on the screen."""
    bench.deliver(40)
    bench.deliver(1, first=60, open=("7", "ask", "ONE_READER"))
    with bench.running() as program:
        page = window(program.laptop, phone=True)
        until(page, "40 connectors agree")
        page.wait_for_timeout(300)
        picture(page, "phone-review-group")
        taps = 0
        while "Confirm" not in page.inner_text("#confirm"):
            page.tap("#confirm")
            taps += 1
            page.wait_for_timeout(700)
            assert taps <= 9
        place = page.locator("#confirm").bounding_box()
        for _ in range(2):  # a tap too many confirms nothing that was not looked at
            page.touchscreen.tap(place["x"] + 40, place["y"] + 20)
        until(page, "One connector")
        page.wait_for_timeout(300)
        picture(page, "phone-review-one")
        page.tap("button:has-text('Correct')")
        page.tap("#in-open")
        page.fill("#in-open", "6")
        picture(page, "phone-review-correct")
        page.tap("button:has-text('Note it')")
        until(page, "Noted", ".told")
        page.tap("#confirm:not(.more)")
        until(page, "All of Spring is decided")
        page.tap("button:has-text('Undo')")
        until(page, "Undone", ".told")
        page.tap("#confirm:not(.more)")
        until(page, "All of Spring is decided")
    with bench.open() as book:
        assert 41 == len(list_connectors(book))


def test_a_phone_is_let_in_may_confirm_and_is_sent_away(bench, window, picture, camera_photo):
    """The laptop lists the phones; one may be allowed to confirm, and sent away at once."""
    with bench.running("--delivery", "Spring", phone=True) as program:
        laptop = window(program.laptop)
        phone = window(program.phone, phone=True, allow=("403",))
        send(phone, camera_photo(1, plug.SURE))
        assert 0 == phone.locator("nav >> text=Review").count()
        laptop.keyboard.press("p")
        laptop.wait_for_selector("text=1 photos")
        picture(laptop, "phone-panel")
        laptop.click("text=May confirm too")
        phone.reload()
        phone.tap("nav >> text=Review")
        until(phone, "One connector")
        phone.tap("#confirm:not(.more)")
        until(phone, "All of Spring is decided")
        laptop.click("text=Send it away >> nth=0")
        laptop.wait_for_selector("text=None yet.")
        assert 403 == phone.goto(phone.url).status
    with bench.open() as book:
        assert 1 == len(list_connectors(book))


def test_where_photos_go_is_set_at_the_laptop(bench, window, camera_photo):
    """The delivery typed at the laptop is where the phone's photos go."""
    with bench.running(phone=True) as program:
        laptop = window(program.laptop)
        laptop.keyboard.press("p")
        laptop.fill("input[name=delivery]", "Summer")
        laptop.click("button:has-text('Set')")
        laptop.wait_for_load_state("load")
        phone = window(program.phone, phone=True)
        send(phone, camera_photo(1, plug.SURE))
    with bench.open() as book:
        assert ["Summer"] == [arrival.delivery for arrival in waiting(book)]


def test_without_a_phone_only_this_computer_is_listened_on(bench):
    """Without `--phone` there is one listening socket, on 127.0.0.1."""
    bench.deliver(1)
    with bench.running() as program:
        assert ["127.0.0.1"] == listening(program.process.pid)

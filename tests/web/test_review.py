"""The review in a real browser: by keyboard, with everything a person may do."""

import re

import pytest
from page_bench import confirm, press, until

from stampreader.register import find_connector, list_connectors, read_crop, waiting


def shown_on_screen(page):
    """Names of the members whose picture lies wholly inside the part that scrolls."""
    return set(
        page.evaluate(
            """() => { const box = document.querySelector('main').getBoundingClientRect();
            return [...document.querySelectorAll('.cell')].filter((cell) => {
              const place = cell.querySelector('img').getBoundingClientRect();
              return place.top >= box.top - 2 && place.bottom <= box.bottom + 2
                && cell.querySelector('img').naturalWidth > 0;
            }).map((cell) => cell.dataset.keyOf); }"""
        )
    )


def test_forty_equal_connectors_take_at_most_five_keys(bench, window, picture):
    """From opening the page to forty confirmed entries: five key presses, every crop on screen."""
    keys = bench.deliver(40)
    with bench.running() as program:
        page = window(program.laptop)
        until(page, "40 connectors agree")
        presses, on_screen = 0, set()
        while page.locator("#confirm").count():
            page.wait_for_timeout(700)
            on_screen |= shown_on_screen(page)
            if presses == 0:
                picture(page, "review-group")
            press(page, "Enter")
            presses += 1
            assert presses <= 5
        until(page, "All of Spring is decided")
    assert presses <= 5
    assert {str(key) for key in keys} == on_screen
    with bench.open() as book:
        assert 40 == len(list_connectors(book))
        assert [] == waiting(book)


def test_what_is_shown_is_what_is_kept_as_evidence(bench, window):
    """The picture on the page is, byte for byte, the evidence in the history of the entry."""
    bench.deliver(1)
    with bench.running() as program:
        page = window(program.laptop)
        with page.expect_response(re.compile("/crop/")) as seen:
            page.reload()
        shown = seen.value.body()
        confirm(page)
        until(page, "All of Spring is decided")
    with bench.open() as book:
        connector = find_connector(book, "C-0001")
        (read,) = book.history(connector.uid)[0].body["read"]
        assert shown == read_crop(book, read["crop"]).picture


def test_one_is_taken_out_corrected_and_confirmed(bench, window, picture):
    """Arrow and space choose one of a group, T takes it out; its figure is typed, then confirmed."""
    bench.deliver(6)
    with bench.running() as program:
        page = window(program.laptop)
        until(page, "6 connectors agree")
        for key in ("ArrowRight", "ArrowRight", "Space"):
            page.keyboard.press(key)
        press(page, "t")
        until(page, "5 connectors agree")
        confirm(page)
        until(page, "One connector")
        page.keyboard.press("3")
        page.keyboard.type("9")
        picture(page, "review-correct")
        press(page, "Enter")
        until(page, "Noted", ".told")
        assert "typed" in page.inner_text(".f-open")
        assert "read: 7" in page.inner_text(".f-open")
        confirm(page)
        until(page, "All of Spring is decided")
    with bench.open() as book:
        assert [("7", 5), ("9", 1)] == [
            (value, sum(str(c.open_kN) == value for c in list_connectors(book)))
            for value in ("7", "9")
        ]


def test_doubts_stand_beside_their_figure(bench, window, picture):
    """Doubts are told in words inside the card of the figure they concern, and nowhere else."""
    bench.deliver(1, open=("7", "ask", "ONE_READER", "WEAK_GLYPH"))
    with bench.running() as program:
        page = window(program.laptop)
        told = page.inner_text(".f-open")
        assert "only one reader saw it" in told and "faint or blurred" in told
        assert "please look" in told
        assert "reader" not in page.inner_text(".f-closed")
        picture(page, "review-one")


def test_the_odd_one_and_the_counterfeit_are_told(bench, window):
    """One that differs from its delivery says so; a figure below the claimed class is a warning."""
    bench.deliver(5)
    bench.deliver(1, first=20, closed="21")
    bench.deliver(1, first=21, closed="12")
    with bench.running() as program:
        page = window(program.laptop)
        until(page, "5 connectors agree")
        confirm(page)
        until(page, "One connector")
        assert "It stands apart: closed 21 where 5 have 27." in page.inner_text(".remarks")
        confirm(page)
        page.wait_for_selector(".notice.stop:not([hidden])")
        assert "EN 362" in page.inner_text(".notice.stop:not([hidden])")


def test_nothing_read_is_typed_in(bench, window):
    """A blank one cannot be confirmed; Enter leads to typing, minus says that none is stamped."""
    bench.deliver(1, closed=None, cross=None, open=None, marks=())
    with bench.running() as program:
        page = window(program.laptop)
        assert 0 == page.locator("#confirm").count()
        for value in ("26", "-", "6"):
            page.keyboard.type(value)
            page.keyboard.press("Tab")
        page.locator("input[name=maker]").fill("Felsnase")
        page.keyboard.press("Enter")
        until(page, "Noted", ".told")
        confirm(page)
        until(page, "All of Spring is decided")
    with bench.open() as book:
        entered = find_connector(book, "C-0001")
        assert ("26", None, "6") == (
            str(entered.closed_kN),
            entered.cross_kN,
            str(entered.open_kN),
        )
        assert "Felsnase" == entered.maker


def test_wrong_typing_is_told_and_kept_in_the_field(bench, window):
    """What cannot be a strength is refused in a line; what was typed stays to be mended."""
    bench.deliver(1)
    with bench.running() as program:
        page = window(program.laptop, allow=("422",))
        page.keyboard.press("1")
        page.keyboard.type("2x")
        press(page, "Enter")
        until(page, "'2x' is not a strength", "[role=alert]:not([hidden])")
        assert "2x" == page.input_value("#in-closed")
        page.fill("#in-closed", "")
        press(page, "Enter")
        until(page, "The closed figure is empty", "[role=alert]:not([hidden])")
    with bench.open() as book:
        assert 1 == len(waiting(book))


def test_a_correction_that_was_not_noted_is_never_passed_over(bench, window):
    """Typed but not noted: nothing can be confirmed until it is noted or left as it was."""
    bench.deliver(1)
    with bench.running() as program:
        page = window(program.laptop, allow=("422",))
        page.keyboard.press("3")
        page.keyboard.type("9")
        page.wait_for_timeout(600)
        page.click("#confirm")
        assert page.locator("#unnoted").is_visible()
        page.click("[data-shut]")
        assert not page.locator("#correct").is_visible()
        page.keyboard.press("3")
        assert "7" == page.input_value("#in-open")
        page.keyboard.type("x")
        press(page, "Enter")
        until(page, "'x' is not a strength", "[role=alert]:not([hidden])")
        page.wait_for_timeout(600)
        page.click("#confirm")
        assert page.locator("#unnoted").is_visible()
    with bench.open() as book:
        assert 1 == len(waiting(book))


def test_skip_undo_and_set_aside(bench, window):
    """Skip leaves it for later, undo goes back step by step, set aside asks for a reason."""
    bench.deliver(2, closed=("27", "ask", "ONE_READER"))
    with bench.running() as program:
        page = window(program.laptop)
        first = page.inner_text(".tools .name")
        press(page, "s")
        until(page, "Skipped", ".told")
        assert first != page.inner_text(".tools .name")
        press(page, "x")
        page.keyboard.type("a shackle")
        press(page, "Enter")
        until(page, "1 skipped")
        press(page, "u")
        until(page, "Undone: 1 set aside", ".told")
        press(page, "u")
        until(page, "Undone.", ".told")
        assert first == page.inner_text(".tools .name")
        confirm(page)
        until(page, "Confirmed: C-0001", ".told")
        press(page, "u")
        until(page, "Undone: C-0001", ".told")
    with bench.open() as book:
        assert 2 == len(waiting(book))
        assert [] == list_connectors(book)


def test_skipped_ones_are_asked_again(bench, window):
    """When only skipped ones are left, Enter asks about them again."""
    bench.deliver(1)
    with bench.running() as program:
        page = window(program.laptop)
        press(page, "s")
        until(page, "1 skipped")
        press(page, "Enter")
        until(page, "One connector")
        confirm(page)
        until(page, "All of Spring is decided")


def test_a_picture_is_made_larger_turned_and_seen_whole(bench, window, picture):
    """Plus, R, B and W: larger, turned by a quarter, without boxes, the whole photo with boxes."""
    bench.deliver(1)
    with bench.running() as program:
        page = window(program.laptop)
        page.wait_for_selector(".sheet")
        wide = page.locator(".sheet").bounding_box()["width"]
        page.keyboard.press("+")
        assert pytest.approx(1.5 * wide, rel=0.02) == page.locator(".sheet").bounding_box()["width"]
        page.keyboard.press("r")
        assert "rotate(90deg)" in page.locator(".paper").get_attribute("style")
        assert page.locator(".boxes").is_visible()
        page.keyboard.press("b")
        assert not page.locator(".boxes").is_visible()
        page.keyboard.press("w")
        page.wait_for_function("() => document.querySelector('#whole img')?.naturalWidth > 0")
        assert 5 == page.locator("#whole polygon:not(.halo)").count()
        picture(page, "review-whole")
        page.keyboard.press("Escape")
        assert not page.locator("#whole").is_visible()


def test_the_large_picture_goes_through_a_group(bench, window, picture):
    """Z enlarges one of a group; the arrows go on to the next."""
    bench.deliver(3)
    with bench.running() as program:
        page = window(program.laptop)
        until(page, "3 connectors agree")
        page.keyboard.press("z")
        assert page.inner_text("#viewer .name").startswith("1 of 3")
        page.keyboard.press("Tab")
        page.keyboard.press("ArrowRight")
        assert page.inner_text("#viewer .name").startswith("2 of 3")
        picture(page, "review-large")
        page.keyboard.press("Escape")
        page.wait_for_timeout(100)
        assert "2" == page.evaluate(
            "() => document.activeElement.closest('.cell').querySelector('b').innerText"
        )


def test_single_keys_can_be_switched_off(bench, window):
    """With single keys off no letter does anything (WCAG 2.2, success criterion 2.1.4)."""
    bench.deliver(1)
    with bench.running() as program:
        page = window(program.laptop)
        page.keyboard.press("?")
        page.click("button[name=keys][value=off]")
        page.wait_for_load_state("load")
        page.keyboard.press("s")
        page.keyboard.press("Enter")
        page.wait_for_timeout(300)
        until(page, "One connector")
        page.click("#confirm")
        until(page, "All of Spring is decided")


def test_a_reload_loses_nothing(bench, window):
    """What was typed and taken out is still so after a reload."""
    bench.deliver(3)
    with bench.running() as program:
        page = window(program.laptop)
        page.check("input[name=member] >> nth=0")
        press(page, "t")
        until(page, "2 connectors agree")
        page.reload()
        until(page, "2 connectors agree")
        assert 1 == page.locator("progress[max='3']").count()


def test_a_killed_program_goes_on_where_it_was(bench, window):
    """Killed in the middle: confirmed entries stand, what was typed and skipped is kept."""
    bench.deliver(4)
    bench.deliver(3, first=20, cross=("9", "ask", "ONE_READER"))
    with bench.running() as program:
        page = window(program.laptop, allow=("ERR_CONNECTION",))
        until(page, "4 connectors agree")
        confirm(page)
        until(page, "Confirmed: C-0001", ".told")
        press(page, "s")
        until(page, "Skipped", ".told")
        page.keyboard.press("2")
        page.keyboard.type("10")
        press(page, "Enter")
        until(page, "Noted", ".told")
        program.kill()
        page.wait_for_selector("#lost", state="visible")
        page.close()
    with bench.running() as program:
        page = window(program.laptop)
        until(page, "One connector")
        assert "10" in page.inner_text(".f-cross .value")
        assert "4 done, 3 left" == page.inner_text(".progress span")
        confirm(page)
        until(page, "Confirmed: C-0005", ".told")
        confirm(page)
        until(page, "1 skipped")
    with bench.open() as book:
        crosses = sorted(str(c.cross_kN) for c in list_connectors(book))
        assert ["10", "8", "8", "8", "8", "9"] == crosses


def test_two_windows_enter_nothing_twice(bench, window):
    """A second window whose question was answered meanwhile is told so; nothing is doubled."""
    bench.deliver(3)
    with bench.running() as program:
        page = window(program.laptop, allow=("409",))
        other = page.context.new_page()
        other.goto(page.url)
        other.evaluate("() => { window.setInterval = () => 0; }")
        confirm(page)
        until(page, "All of Spring is decided")
        answer = other.evaluate(
            """async () => { const form = new FormData(document.querySelector('#answer'));
            form.set('decision', 'confirm');
            form.set('seen', [...document.querySelectorAll('.cell')].map((c) => c.dataset.keyOf).join(','));
            const answer = await fetch(location.href, {method: 'POST', body: new URLSearchParams(form)});
            return [answer.status, await answer.text()]; }"""
        )
        assert 409 == answer[0]
        assert "answered already" in answer[1]
    with bench.open() as book:
        assert 3 == len(list_connectors(book))


def test_what_arrives_meanwhile_appears_by_itself(bench, window):
    """A connector read meanwhile joins its group on the page, and has to be seen before Enter."""
    bench.deliver(2)
    with bench.running() as program:
        page = window(program.laptop)
        until(page, "2 connectors agree")
        bench.deliver(1, first=9)
        until(page, "3 connectors agree")


def test_several_deliveries_are_chosen_from(bench, window):
    """With several deliveries the page asks which; a number key opens it."""
    bench.deliver(2)
    bench.deliver(1, first=9, delivery="Autumn & <b>more</b>")
    with bench.running() as program:
        page = window(program.laptop)
        until(page, "Which delivery?")
        assert "Autumn & <b>more</b>" in page.inner_text(".choices")
        press(page, "2")
        until(page, "One connector")
        assert "Autumn & <b>more</b>" == page.inner_text(".progress label")


def test_a_very_large_group_comes_in_two_parts(bench, window):
    """Of 130 members the page holds 60 at first and fetches the rest; all have to be seen."""
    keys = bench.deliver(130, size=(320, 240))
    with bench.running() as program:
        page = window(program.laptop)
        until(page, "130 connectors agree")
        page.wait_for_function("() => document.querySelectorAll('.cell').length === 130")
        for _ in range(30):
            page.wait_for_timeout(550)
            if page.locator("#confirm:not(.more)").count():
                break
            page.keyboard.press("Enter")
        assert sorted(keys) == sorted(map(int, page.input_value("#seen").split(",")))
        press(page, "Enter")
        until(page, "All of Spring is decided")
    with bench.open() as book:
        assert 130 == len(list_connectors(book))

"""Everybody can use the pages: axe-core over every page, in every look, large and small.

axe-core tests against WCAG 2.2 A and AA; it comes with the package axe-playwright-python.
"""

import plug
import pytest
from axe_playwright_python.sync_playwright import Axe
from page_bench import enter, record, until

from stampreader.register import Kind

RULES = {
    "runOnly": {
        "type": "tag",
        "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    }
}
TARGET_PX = 44
"""Smallest side of anything to touch. WCAG 2.2 asks for 24 (AA) or 44 (AAA); gloves need the latter."""


def findings(page):
    """What axe finds serious or critical, and where."""
    found = Axe().run(page, options=RULES).response["violations"]
    return [
        (one["id"], node["html"][:120], node.get("failureSummary", "")[:200])
        for one in found
        if one["impact"] in ("serious", "critical")
        for node in one["nodes"]
    ]


def small_targets(page):
    """Things to touch that are smaller than they should be."""
    return page.evaluate(
        """(least) => [...document.querySelectorAll('button, a, input, summary')].filter((e) => {
          const place = e.getBoundingClientRect();
          if (!place.width || e.closest('.skip, noscript') || e.type === 'hidden') return false;
          const inside = e.closest('label');
          const around = inside ? inside.getBoundingClientRect() : place;
          return Math.min(around.width, around.height) < least - 0.5;
        }).map((e) => e.outerHTML.slice(0, 100))""",
        TARGET_PX,
    )


def spilling(page):
    """Whether the page is wider than its window (WCAG 2.2, success criterion 1.4.10)."""
    wide = page.evaluate("() => document.documentElement.scrollWidth")
    return wide > page.viewport_size["width"] + 1


def check(page):
    """Nothing serious found, nothing too small, nothing spilling over."""
    assert [] == findings(page)
    assert [] == small_targets(page)
    assert not spilling(page)


@pytest.fixture
def full(bench):
    """Something on every page: a group, doubtful ones, a record, several deliveries."""
    bench.deliver(5)
    bench.deliver(1, first=20, closed=("12", "ask", "ONE_READER", "WEAK_GLYPH"))
    bench.deliver(1, first=30, delivery="Autumn")
    enter(bench, id="Q-1", maker="Felsnase")
    record(bench, Kind.QUARANTINED, enter(bench, id="Q-2"), "2025-03-01", reason="a groove")
    return bench


@pytest.mark.parametrize("look", ["light", "dark", "sun"])
@pytest.mark.parametrize("phone", [False, True], ids=["desktop", "phone"])
def test_every_page_in_every_look(full, window, picture, look, phone):
    """Each page is checked as it stands and with its windows open."""
    with full.running("--phone-address", "127.0.0.2") as program:
        page = window(program.laptop, phone=phone, allow=("404", "422"))
        base = page.url.rsplit("/", 1)[0]
        page.context.add_cookies([{"name": "look", "value": look, "url": base}])
        size = "phone" if phone else "desktop"
        for name, path in (
            ("deliveries", "/deliveries"),
            ("group", "/review?delivery=Spring"),
            ("look", "/look"),
            ("record", "/look?id=Q-1"),
            ("quarantined", "/look?id=Q-2"),
            ("unknown", "/look?id=Q-9"),
            ("phone", "/phone"),
            ("camera", "/camera"),
            ("refused", "/nowhere"),
        ):
            page.goto(base + path)
            page.wait_for_timeout(150)
            picture(page, f"{size}-{look}-{name}")
            check(page)
        page.goto(base + "/review?delivery=Spring")
        page.click("button[data-open=help]")
        picture(page, f"{size}-{look}-help")
        check(page)
        page.keyboard.press("Escape")
        page.locator("[data-view]").first.click()
        check(page)
        page.keyboard.press("Escape")
        page.click("button[value=skip]")
        until(page, "One connector")
        page.wait_for_timeout(600)
        picture(page, f"{size}-{look}-one")
        check(page)
        page.click("[data-figure-open]")
        picture(page, f"{size}-{look}-correct")
        check(page)
        page.click("button[data-open=aside]")
        check(page)
        page.keyboard.press("Escape")
        page.click("button[value=skip]")
        until(page, "6 skipped")
        picture(page, f"{size}-{look}-done")
        check(page)


def test_the_camera_page_with_results(full, window, picture, camera_photo):
    """The camera page with a sure, a doubtful, an unread and a refused photo."""
    with full.running(phone=True) as program:
        page = window(program.phone, phone=True)
        for number, width in enumerate((plug.SURE, plug.FAINT, plug.NOTHING, plug.RAISE)):
            page.set_input_files("input#photo", camera_photo(number, width))
            page.wait_for_function(
                "(n) => document.querySelectorAll('.result').length > n", arg=number
            )
        picture(page, "phone-camera-results", full_page=True)
        check(page)


def test_the_review_fits_a_low_window(full, window, picture):
    """A phone held sideways, or a window magnified fourfold, still shows and scrolls everything."""
    with full.running() as program:
        page = window(program.laptop)
        for width, height in ((740, 360), (320, 256)):
            page.set_viewport_size({"width": width, "height": height})
            page.goto(page.url.rsplit("/", 1)[0] + "/review?delivery=Spring")
            page.wait_for_timeout(200)
            picture(page, f"low-{width}", full_page=True)
            check(page)


def test_the_whole_review_needs_no_pointer(full, window):
    """By Tab alone every button is reached, and what is reached is shown to be reached."""
    with full.running() as program:
        page = window(program.laptop)
        page.goto(page.url.rsplit("/", 1)[0] + "/review?delivery=Spring")
        until(page, "5 connectors agree")
        reached = set()
        for _ in range(40):
            page.keyboard.press("Tab")
            told = page.evaluate(
                """() => { const e = document.activeElement, s = getComputedStyle(e);
                return [e.tagName, e.innerText || '', s.outlineStyle]; }"""
            )
            if told[0] != "BODY":
                reached.add(told[1].strip())
                assert "none" != told[2], told
        for words in ("Review", "Look up", "Help", "Skip", "Take out", "Correct"):
            assert [one for one in reached if one.startswith(words)], (words, reached)


def test_a_long_name_of_a_delivery_spills_nowhere(bench, window):
    """A delivery named in a whole sentence is cut on the small screen, never wider than it."""
    bench.deliver(2, delivery="Spring order of the mountain rescue team, second part, " * 3)
    with bench.running() as program:
        page = window(program.laptop, phone=True, viewport={"width": 390, "height": 800})
        until(page, "2 connectors agree")
        check(page)
        place = page.locator(".progress span").bounding_box()
        assert place["x"] + place["width"] <= 390

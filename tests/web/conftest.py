"""A bench: a register with drawn evidence, the real command, a real browser."""

import shutil
import sys
from pathlib import Path

import pytest
from playwright.sync_api import sync_playwright

sys.path.insert(0, str(Path(__file__).parent))

from drawn import jpeg, photo_of
from page_bench import ARGUMENTS, PICTURES, WAIT_MS, Bench


@pytest.fixture(scope="session")
def chromium():
    """The Chromium of this machine, without a window."""
    names = ("chromium", "chromium-browser", "google-chrome")
    place = next(filter(None, map(shutil.which, names)), None)
    assert place is not None, "Chromium is missing; `bash tests/run` installs it"
    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=place, args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def window(chromium, bench):
    """Opens a page in a window of its own; faults of the page's script fail the test."""
    faults = []

    def opened(link, *, phone=False, allow=(), **more):
        screen = {"viewport": {"width": 1280, "height": 800}}
        if phone:
            screen = {
                "viewport": {"width": 412, "height": 839},
                "has_touch": True,
                "is_mobile": True,
                "device_scale_factor": 2,
            }
        context = chromium.new_context(**{**screen, **more})
        bench.windows.append(context)
        page = context.new_page()
        page.set_default_timeout(WAIT_MS)
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on(
            "console",
            lambda said: (
                faults.append(said.text)
                if said.type == "error" and not any(word in said.text for word in allow)
                else None
            ),
        )
        page.goto(link)
        return page

    yield opened
    bench.close_windows()
    assert [] == faults


@pytest.fixture
def bench(tmp_path):
    """An empty bench."""
    return Bench(tmp_path)


@pytest.fixture
def picture():
    """Leaves a screenshot to be looked at."""

    def taken(page, name, **how):
        PICTURES.mkdir(parents=True, exist_ok=True)
        page.screenshot(path=PICTURES / f"{name}.png", **how)

    return taken


@pytest.fixture
def camera_photo(tmp_path):
    """Makes the file of a photo a phone would send; its width tells the readers what to see."""

    def made(number, width):
        pixels, _ = photo_of(number, size=(width, 900))
        place = tmp_path / f"camera-{number}-{width}.jpg"
        place.write_bytes(jpeg(pixels))
        return place

    return made

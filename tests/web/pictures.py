"""Makes the two pictures of the page for README, from photos of `test_images/`.

    python tests/web/pictures.py FOLDER

The figures shown are those of `truth.json`, not those of a reader: so the pictures stay the same
whatever the readers learn. One figure is marked doubtful to show how doubts look.
"""

import io
import json
import math
import shutil
import sys
import tempfile
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from drawn import Clock
from page_bench import ARGUMENTS, Bench
from PIL import Image
from playwright.sync_api import sync_playwright

from stampreader.photo import load_photo
from stampreader.reading import evidence_crop
from stampreader.register import Crop, Kind, add_arrival, find_connector, keep_reading
from stampreader.words import SLOTS, Doubt, Figure, Mark, Reading, Sighting, Stamp, State

IMAGES = Path(__file__).resolve().parents[2] / "test_images"
ONE, OTHERS = "test-0003.jpg", ("test-0056.jpg", "test-0009.jpg")
DESKTOP, PHONE = {"width": 1280, "height": 800}, {"width": 400, "height": 800}
COLOURS = 160


def truth_of(name):
    """What truth.json says of a photo's only connector."""
    told = json.loads((IMAGES / "truth.json").read_text("utf-8"))
    return next(one for one in told if one["photo"] == name)["connectors"][0]


def stamp_of(truth, doubt):
    """The connector as a reading: every figure sure but the one in doubt."""

    def figure(slot):
        kN, box = truth[f"{slot.value}_kN"], truth["figures"][slot.value]["box"]
        quad = tuple(map(tuple, box))
        if slot is doubt:
            return Figure(Decimal(str(kN)), State.ASK, 0.7, quad, (Doubt.WEAK_GLYPH,))
        return Figure(Decimal(str(kN)), State.SURE, 0.99, quad)

    closed, cross, open_ = map(figure, SLOTS)
    panel = tuple(map(tuple, truth["panel"]))
    marks = tuple(Mark(text) for text in truth["marks"])
    return Stamp(closed, cross, open_, marks, box=panel, angle_deg=direction(panel))


def direction(panel):
    """The direction of a panel's first long edge in degrees."""
    first, second = (math.dist(panel[n], panel[n + 1]) for n in (0, 1))
    (ax, ay), (bx, by) = panel[0:2] if first > second else panel[1:3]
    return math.degrees(math.atan2(by - ay, bx - ax)) % 360


def arrive(book, bench, name, doubt):
    """Put a photo on the list."""
    photo, stamp = load_photo(IMAGES / name), stamp_of(truth_of(name), doubt)
    crop = Crop(photo.sha256, 0, "image/jpeg", evidence_crop(photo, stamp))
    reading = Reading(name, photo.sha256, photo.size, (stamp,), readers=("truth 1",))
    keep_reading(book, reading, [crop], at=bench.clock())
    seen = Sighting(photo.sha256, 0, stamp, "truth 1", crop.sha256, str(IMAGES / name))
    add_arrival(book, "Spring order", [seen], at=bench.clock())


def small(data, place):
    """Keep a screenshot with few colours, so that it stays small."""
    picture = Image.open(io.BytesIO(data)).convert("RGB")
    picture.quantize(COLOURS, dither=Image.Dither.NONE).save(place, optimize=True)


def beside(*shots):
    """Screenshots side by side."""
    pictures = [Image.open(io.BytesIO(shot)).convert("RGB") for shot in shots]
    width = sum(p.width for p in pictures) + 24 * (len(pictures) - 1)
    whole = Image.new("RGB", (width, pictures[0].height), "white")
    x = 0
    for one in pictures:
        whole.paste(one, (x, 0))
        x += one.width + 24
    out = io.BytesIO()
    whole.save(out, "PNG")
    return out.getvalue()


def main(folder):
    """Make both pictures."""
    folder.mkdir(parents=True, exist_ok=True)
    bench = Bench(Path(tempfile.mkdtemp(prefix="pictures-")))
    bench.clock = Clock(datetime.now(UTC) - timedelta(minutes=5))
    with bench.open(create=True) as book:
        for name in (ONE, *OTHERS):
            arrive(book, bench, name, SLOTS[2] if name == ONE else SLOTS[1])
    with bench.running() as program, sync_playwright() as player:
        browser = player.chromium.launch(executable_path=shutil.which("chromium"), args=ARGUMENTS)
        page = browser.new_page(viewport=DESKTOP)
        page.goto(program.laptop)
        page.wait_for_selector("#confirm:not(.more)")
        small(page.screenshot(), folder / "review.png")
        page.keyboard.press("Enter")
        page.wait_for_selector(".told:has-text('C-0001')")
        held = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True)
        held.add_cookies(page.context.cookies())
        phone = held.new_page()
        phone.goto(page.url)
        phone.wait_for_selector("#confirm:not(.more)")
        one = phone.screenshot()
        with bench.open() as book:
            uid = find_connector(book, "C-0001").uid
            book.record(Kind.PUT_IN_SERVICE, uid, {}, who="Ada", at=bench.clock())
        phone.goto(program.laptop.split("/open")[0] + "/look?id=C-0001&load=2.0")
        two = phone.screenshot()
        phone.evaluate("() => document.querySelector('#load').scrollIntoView()")
        small(beside(one, two, phone.screenshot()), folder / "phone.png")
        browser.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]))

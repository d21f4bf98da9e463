"""Measures the page: first page with 1,000 pending readings, memory, time of a photo.

    python tests/bench_web.py [--pending 1000] [--group 40]
    python tests/bench_web.py --phone       # photos of test_images/ sent as a phone does, real readers

Prints one line a figure. Not a test: times depend on the machine and on what else it does.
"""

import argparse
import shutil
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).parent / "web"))

import plug
from drawn import jpeg, photo_of
from page_bench import ARGUMENTS, Bench
from playwright.sync_api import sync_playwright

IMAGES = Path(__file__).resolve().parent.parent / "test_images"
TIMES = 7
PAINTED = """() => new Promise((done) => {
  const look = () => {
    const painted = performance.getEntriesByName('first-contentful-paint')[0];
    const way = performance.getEntriesByType('navigation')[0];
    if (painted && way.domContentLoadedEventEnd) {
      done([way.responseEnd, painted.startTime, way.domContentLoadedEventEnd]);
    } else setTimeout(look, 10);
  };
  look();
})"""


def megabytes(pid, name="VmRSS"):
    """Resident memory of a process."""
    for line in Path(f"/proc/{pid}/status").read_text().splitlines():
        if line.startswith(name):
            return int(line.split()[1]) / 1024
    raise ValueError(name)


def parts_of(pid):
    """Processes a process has started, those of its own children included."""
    found = []
    for place in Path("/proc").glob("[0-9]*/stat"):
        try:
            cells = place.read_text().rsplit(")", 1)[1].split()
        except OSError:
            continue
        if int(cells[1]) == pid:
            child = int(place.parent.name)
            found += [child, *parts_of(child)]
    return found


def first_of_all(program, page, path):
    """Milliseconds until a page shows that the program has not made before."""
    page.goto("about:blank")
    page.wait_for_timeout(700)
    page.goto(address(program) + path)
    came, shown, _ = page.evaluate(PAINTED)
    return came, shown


def first_page(program, page, path):
    """Milliseconds until the page has come, until it shows, until its script has run."""
    rows = []
    for _ in range(TIMES):
        page.goto("about:blank")
        page.wait_for_timeout(700)
        page.goto(address(program) + path)
        rows.append(page.evaluate(PAINTED))
    return [median(column) for column in zip(*rows, strict=True)]


def address(program):
    """Where the pages of the laptop lie."""
    return program.laptop.split("/open")[0]


def served(program, path):
    """Milliseconds the program takes for a page, without a browser."""
    spent = []
    for _ in range(TIMES):
        began = time.perf_counter()
        answer = program.ask(program.laptop, "~" + path)
        spent.append(1000 * (time.perf_counter() - began))
        assert 200 == answer.status
    return median(spent), len(answer.text)


def from_the_phone():
    """Seconds from sending a photo to the answer about it, with the readers that are installed."""
    bench = Bench(Path(tempfile.mkdtemp(prefix="bench-web-")))
    spent = []
    with bench.running(phone=True, plugged=False) as program:
        program.enter(program.phone)
        for path in sorted(IMAGES.glob("*.jpg")):
            photo = path.read_bytes()
            began = time.perf_counter()
            assert 200 == program.photo(program.phone, photo).status
            spent.append(time.perf_counter() - began)
    first, *warm = spent
    late = sorted(warm)[int(0.95 * len(warm))]
    print(
        f"{len(spent)} photos sent one after another, each until it was answered: the first {first:.2f} s, "
        f"then median {median(warm):.2f} s, 95 % {late:.2f} s, longest {max(warm):.2f} s"
    )


def main():
    """Measure and print."""
    wanted = argparse.ArgumentParser()
    wanted.add_argument("--phone", action="store_true", help="only the photos of a phone")
    wanted.add_argument("--pending", type=int, default=1000)
    wanted.add_argument("--group", type=int, default=40)
    asked = wanted.parse_args()
    if asked.phone:
        from_the_phone()
        return
    bench = Bench(Path(tempfile.mkdtemp(prefix="bench-web-")))
    rest = asked.pending - asked.group
    bench.deliver(asked.group)
    bench.deliver(rest, first=asked.group + 1, size=(320, 240), open=("7", "ask", "ONE_READER"))
    bench.deliver(rest, first=5000, size=(320, 240), delivery="One large group")
    with bench.running(phone=True) as program, sync_playwright() as player:
        browser = player.chromium.launch(executable_path=shutil.which("chromium"), args=ARGUMENTS)
        page = browser.new_page(viewport={"width": 1280, "height": 800})
        page.goto(program.laptop)
        link = next(c for c in page.context.cookies() if c["name"] == "key")
        program.cookies[program.host(program.laptop)] = f"key={link['value']}"
        program.enter(program.phone)
        for name, path in (
            (f"group of {asked.group} among {asked.pending} pending", "/review?delivery=Spring"),
            (f"group of {rest}", "/review?delivery=One+large+group"),
            ("deliveries", "/deliveries"),
        ):
            cold, first = first_of_all(program, page, path)
            spent, length = served(program, path)
            came, shown, ready = first_page(program, page, path)
            print(
                f"{name}: the very first time it came after {cold:.0f} ms and showed after "
                f"{first:.0f} ms; then served in {spent:.0f} ms ({length / 1024:.0f} kB); in the browser it came "
                f"after {came:.0f} ms, showed after {shown:.0f} ms, worked after {ready:.0f} ms"
            )
        for number in range(5):
            photo = jpeg(photo_of(number, size=(plug.SURE, 900))[0])
            began = time.perf_counter()
            assert 200 == program.photo(program.phone, photo).status
            spent = time.perf_counter() - began
        print(f"a photo with plugged readers, sent to answered: {1000 * spent:.0f} ms")
        own = megabytes(program.process.pid)
        most = megabytes(program.process.pid, "VmHWM")
        readers = {pid: megabytes(pid) for pid in parts_of(program.process.pid)}
        print(f"memory of the server: {own:.0f} MB, at most {most:.0f} MB; readers {readers}")
        browser.close()


if __name__ == "__main__":
    main()

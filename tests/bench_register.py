"""How the register answers as it grows: `python tests/bench_register.py [--sizes 1000,10000,100000]`.

Builds registers of so many connectors with ten events each through the register's own functions,
asks the questions of a working day through the command line's own functions (start-up apart), and
prints the best of several times with the growth of the cost: the exponent of the size, 0 for a
cost that stays the same and 1 for one that grows like the register.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import math
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from stampreader.cli import run
from stampreader.register import Kind, open_register
from stampreader.register.events import Event, sealed

EVENTS_EACH = 10
STATION = "benchaaa"
TODAY = datetime.now(UTC).date()
FIRST = datetime(2020, 1, 1, tzinfo=UTC)
LIMIT_MS = 200
START_LIMIT_MS = 400


def fields_of(index: int) -> dict[str, object]:
    """Connector number so-and-so: 40 makers, 200 models, batches of 60, five kinds of gate."""
    gate = ("screw gate", "twist lock", "wire gate", "straight gate", "")[index % 5]
    return {
        "id": f"C-{index + 1:06d}",
        "maker": f"Maker {index // 60 % 40}",
        "model": f"Model {index // 60 % 200}",
        "batch": f"B{index // 60:05d}",
        "serial": f"SN{index:07d}" if index % 7 else "",
        "made_on": str(2015 + index // 60 % 10),
        "delivery": f"Delivery {index // 200}",
        "shape": ("pear", "D", "oval", "offset D")[index % 4],
        "gate": gate,
        "closed_kN": str(20 + index % 20),
        "cross_kN": "7",
        "open_kN": "7",
        "marks": [f"CE 9{index % 300:03d}", ("EN 12275:2013/H", "EN 362:2004/B")[index % 2]],
    }


def life_of(index: int) -> Iterator[tuple[Kind, dict[str, object], date]]:
    """Ten events: registered, put in service, inspected once a year, moved, sometimes worse."""
    kit = f"Kit {index // 40}"
    last = TODAY - timedelta(days=10 + index * 7 % 370)
    yield Kind.REGISTERED, {"fields": fields_of(index), "by_hand": True}, date(2020, 1, 2)
    yield Kind.PUT_IN_SERVICE, {"place": "Store"}, date(2020, 2, 1)
    for years in range(EVENTS_EACH - 4, 0, -1):
        yield Kind.INSPECTED, {"result": "pass"}, last - timedelta(days=365 * years)
    yield Kind.MOVED, {"place": kit}, last
    if index % 50 == 0:
        yield Kind.QUARANTINED, {"reason": "gate sticks"}, last
    elif index % 50 == 1:
        yield Kind.LOST, {"reason": "left in the field"}, last
    else:
        yield Kind.INSPECTED, {"result": "pass"}, last


def chain(count: int) -> Iterator[Event]:
    """The events of one station, sealed and chained as `record` does it."""
    previous, number = "", 0
    for index in range(count):
        uid = f"{STATION}-{number + 1}"
        after: tuple[str, ...] = ()
        for kind, body, day in life_of(index):
            number += 1
            moment = (FIRST + timedelta(seconds=number)).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
            event = sealed(
                Event(
                    station=STATION, number=number, kind=kind, connector=uid, after=after,
                    happened_on=day.isoformat(), at=moment, turn=moment, who="Ada", body=body,
                    previous=previous,
                )
            )  # fmt: skip
            previous, after = event.hash, (event.id,)
            yield event


def build(path: Path, count: int) -> float:
    """A register of so many connectors; gives the seconds it took."""
    start = time.perf_counter()
    with open_register(path, create=True) as register, register.writing():
        register.insert_events(chain(count))
        register.refresh_all()
    return time.perf_counter() - start


def questions(count: int) -> dict[str, list[str]]:
    """The questions of a working day, as command lines, by what they are."""
    middle = count // 2
    return {
        "list, first 200": ["list", "--limit", "200"],
        "list one maker, first 200": ["list", "--maker", "maker 7", "--limit", "200"],
        "list one kit": ["list", "--place", "kit 7"],
        "list a mark, first 200": ["list", "--mark", "CE 9123", "--limit", "200"],
        "list by due, first 200": ["list", "--sort", "due", "--limit", "200"],
        "show one": ["show", f"C-{middle:06d}"],
        "due within 30 days, first 200": ["due", "--days", "30", "--limit", "200"],
        "due in one kit": ["due", "--days", "400", "--place", "kit 7"],
        "pick for life support, first 200": ["pick", "--use", "life-support", "--limit", "200"],
        "pick a kit of 8, with a load": ["pick", "--use", "life-support:6", "--use", "belay:2",
                                         "--load", "2 kN", "--limit", "40"],
        "pick in one kit": ["pick", "--use", "belay", "--place", "kit 7"],
        "trace a batch": ["trace", "--maker", "maker 7", "--batch", "B00007"],
        "trace serials": ["trace", "--maker", "maker 7", "--serial", f"SN{420}..SN{479}"],
        "trace serials, maker not named": ["trace", "--serial", f"SN{middle}..SN{middle + 500}"],
        "trace a year and model": ["trace", "--model", "model 7", "--made", "2022"],
    }  # fmt: skip


def seconds_of(words: list[str], register: Path, repeats: int) -> tuple[float, int]:
    """The best time of a command in this process, and how many lines it printed."""
    best, lines = math.inf, 0
    for _ in range(repeats):
        out = io.StringIO()
        start = time.perf_counter()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(io.StringIO()):
            status = run([*words, "--register", str(register)])
        best = min(best, time.perf_counter() - start)
        lines = out.getvalue().count("\n")
        if status not in (0, 1) or not lines:
            raise SystemExit(f"{' '.join(words)}: exit {status}, {lines} lines")
    return best, lines


def start_up(register: Path, repeats: int) -> tuple[float, float]:
    """A whole listing in a process of its own: seconds on the clock, seconds of the processor.

    The second is not lengthened by what else the machine is doing.
    """
    clock = processor = math.inf
    for _ in range(repeats):
        start, used = time.perf_counter(), os.times()
        subprocess.run(
            [sys.executable, "-m", "stampreader", "list", "--limit", "1",
             "--register", str(register)],
            check=True, capture_output=True,
        )  # fmt: skip
        after = os.times()
        clock = min(clock, time.perf_counter() - start)
        processor = min(
            processor,
            after.children_user + after.children_system - used.children_user - used.children_system,
        )
    return clock, processor


def growth(sizes: list[int], costs: list[float]) -> float:
    """The exponent of the size between the first and the last cost."""
    return math.log(costs[-1] / costs[0]) / math.log(sizes[-1] / sizes[0])


def table(sizes: list[int], times: dict[str, list[float]], lines: dict[str, int]) -> None:
    """Print the times in milliseconds, the growth, and what is over the limit."""
    heads = "".join(f"{f'{size:,}':>12}" for size in sizes)
    print(f"{'milliseconds beyond start-up':<36}{heads}{'lines':>8}{'growth':>8}")
    for name, costs in times.items():
        cells = "".join(f"{cost * 1000:>12.1f}" for cost in costs)
        slow = "" if costs[-1] * 1000 <= LIMIT_MS else f"  over {LIMIT_MS} ms"
        grown = f"{growth(sizes, costs):>8.2f}" if len(sizes) > 1 else f"{'-':>8}"
        print(f"{name:<36}{cells}{lines[name]:>8}{grown}{slow}")


def measure(sizes: list[int], folder: Path, repeats: int) -> int:
    """Build, ask, print; 1 if anything is over its limit at the largest size."""
    times: dict[str, list[float]] = {}
    lines: dict[str, int] = {}
    for size in sizes:
        path = folder / f"register-{size}.sqlite"
        if not path.exists():
            took = build(path, size)
            print(f"built {size:,} connectors, {size * EVENTS_EACH:,} events in {took:.0f} s, "
                  f"{path.stat().st_size / 1e6:.0f} MB")  # fmt: skip
        for name, words in questions(size).items():
            seconds, lines[name] = seconds_of(words, path, repeats)
            times.setdefault(name, []).append(seconds)
    table(sizes, times, lines)
    clock, processor = start_up(folder / f"register-{sizes[-1]}.sqlite", 2 * repeats)
    print(f"start-up with a listing: {clock * 1000:.0f} ms on the clock, "
          f"{processor * 1000:.0f} ms of the processor (limit {START_LIMIT_MS})")  # fmt: skip
    slow = [name for name, costs in times.items() if costs[-1] * 1000 > LIMIT_MS]
    return int(bool(slow) or processor * 1000 > START_LIMIT_MS)


def main(arguments: list[str] | None = None) -> int:
    """Parse the options and measure."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sizes", default="1000,10000,100000", help="connectors, with commas")
    parser.add_argument("--keep", type=Path, help="folder to keep the registers in")
    parser.add_argument("--repeats", type=int, default=5, help="times of which the best counts")
    given = parser.parse_args(arguments)
    sizes = [int(text) for text in given.sizes.split(",")]
    make: Callable[[], contextlib.AbstractContextManager[str]] = (
        tempfile.TemporaryDirectory if given.keep is None else lambda: contextlib.nullcontext("")
    )
    with make() as folder:
        place = given.keep or Path(folder)
        place.mkdir(parents=True, exist_ok=True)
        return measure(sizes, place, given.repeats)


if __name__ == "__main__":
    sys.exit(main())

"""Several processes work on one register at once, and none may lose what another did.

    python tests/trust/together.py --seconds 60 [--confirming 2] [--inspecting 1] [--reading 1]

Some confirm what waits, some inspect by the real command, some take new deliveries in by the real
command (photos are "read" from a script), and one looks on. In the end everything acknowledged
must stand in the history exactly once, the chain must be whole, and nobody may have waited long.
"""

import argparse
import contextlib
import io
import json
import multiprocessing
import random
import sys
import tempfile
import time
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from jobs import must
from stage import scripted, set_stage

from stampreader.cli import run
from stampreader.errors import RefusedStep
from stampreader.register import (
    add_by_hand,
    check_register,
    confirm_arrivals,
    import_lines,
    list_connectors,
    open_register,
    waiting,
)

FIRST = 20
MOST_S = 5.0
"""The register waits so long for another writer; nobody should come near it."""


class Worker:
    """One process at work; notes what was acknowledged to it and how long each step took."""

    def __init__(self, register, number, seconds):
        self.register, self.who = register, f"Worker {number}"
        self.chance, self.ends = random.Random(number), time.monotonic() + seconds
        self.done, self.slowest, self.refused = Counter(), 0.0, 0

    def work(self, step):
        """Do a step again and again until time is up."""
        while time.monotonic() < self.ends:
            start = time.monotonic()
            step(self)
            self.slowest = max(self.slowest, time.monotonic() - start)

    def command(self, *words):
        """Run a real command; it has to succeed. Gives what it printed."""
        said, complained = io.StringIO(), io.StringIO()
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(complained):
            status = run([*map(str, words), "--register", str(self.register)])
        must(status == 0, f"{words} ended with {status}: {complained.getvalue()}")
        return said.getvalue()

    def told(self):
        """For the parent."""
        return {"done": self.done, "slowest": self.slowest, "refused": self.refused}


def confirming(worker):
    """Confirm up to three of those that wait; another may have been quicker."""
    with open_register(worker.register) as book:
        left = waiting(book)
        few = worker.chance.sample(left, min(3, len(left)))
        if not few:
            time.sleep(0.01)
            return
        given = [(arrival, {"closed_kN": "27"}) for arrival in few]
        try:
            events = confirm_arrivals(book, given, who=worker.who, at=datetime.now(UTC))
        except RefusedStep:
            worker.refused += 1
            return
        worker.done.update(f"registered {event.connector}" for event in events)


def inspecting(worker):
    """Inspect one of the first connectors by the real command."""
    id = f"H-{worker.chance.randrange(FIRST)}"
    worker.command("inspect", id, "--rest-passes", "--who", worker.who)
    worker.done[f"inspected {id}"] += 1


def reading(worker):
    """Take in a new delivery of ten photos by the real command."""
    with tempfile.TemporaryDirectory() as folder:
        for number in range(10):
            photo = Path(folder) / f"27-{number:03d}.jpg"
            photo.write_bytes(worker.chance.randbytes(16))
        name = f"D {worker.chance.randrange(10**9)}"
        worker.command("intake", folder, "--delivery", name, "--who", worker.who)
    worker.done["photos"] += 10


def looking(worker):
    """List and check the whole register while the others write."""
    must("H-0" in worker.command("list", "--json"), "the list is empty")
    worker.command("check")
    if worker.chance.random() < 0.3:
        _copied(worker)
    worker.done["looks"] += 1


def _copied(worker):
    """Export the register and import it into an empty one: a whole register of one moment."""
    with tempfile.TemporaryDirectory() as name:
        file, copy = Path(name) / "all.jsonl", Path(name) / "copy.sqlite"
        worker.command("export", "--to", file)
        with open_register(copy, create=True) as book, file.open("rb") as lines:
            import_lines(book, lines, source="x", who=worker.who, at=datetime.now(UTC))
            faults = [f for f in check_register(book) if "were entered from" not in f]
            must(not faults, f"the export is not of one moment: {faults[:3]}")


def _child(step, register, number, seconds, to):
    set_stage(scripted)
    worker = Worker(register, number, seconds)
    worker.work(step)
    Path(to).write_text(json.dumps(worker.told()), "utf-8")


def work_together(folder, steps, seconds):
    """Let the processes work; gives what each was told, after checking the register."""
    register = folder / "register.sqlite"
    with open_register(register, create=True) as book:
        for number in range(FIRST):
            fields = {"closed_kN": "27", "id": f"H-{number}"}
            add_by_hand(book, fields, who="Ada", at=datetime.now(UTC))
    context = multiprocessing.get_context("fork")
    running = [
        context.Process(target=_child, args=(step, register, n, seconds, folder / f"{n}.json"))
        for n, step in enumerate(steps)
    ]
    for process in running:
        process.start()
    for process in running:
        process.join(seconds + 60)
        must(process.exitcode == 0, f"a process ended with {process.exitcode}: deadlock or fault")
    told = [json.loads((folder / f"{n}.json").read_text("utf-8")) for n in range(len(steps))]
    compare(register, told)
    return told


def compare(register, told):
    """Everything acknowledged stands in the history exactly once, and no writer waited long."""
    with open_register(register) as book:
        faults = list(check_register(book))
        must(not faults, f"not whole: {faults}")
        rows = book.rows(
            "SELECT e.kind, e.connector, c.id FROM events e JOIN connectors c"
            " ON c.uid = e.connector"
        )
        ids = [connector.id for connector in list_connectors(book)]
        left = len(waiting(book))
    must(len(ids) == len(set(ids)), "an id was given twice")
    stored = Counter(
        f"{row['kind']} {row['connector' if row['kind'] == 'registered' else 'id']}"
        for row in rows
        if row["kind"] == "inspected" or (row["kind"] == "registered" and row["id"][0] != "H")
    )
    said = sum((Counter(each["done"]) for each in told), Counter())
    photos, _ = said.pop("photos", 0), said.pop("looks", 0)
    must(stored == said, f"lost: {said - stored}; not acknowledged: {stored - said}")
    confirmed = sum(n for name, n in said.items() if name.startswith("registered"))
    must(confirmed + left == photos, f"{confirmed} confirmed, {left} wait of {photos} photos")
    slowest = max(each["slowest"] for each in told if "looks" not in each["done"])
    must(slowest < MOST_S * 2, f"a step took {slowest:.1f} s")


def main():
    """Work together for a while and print what came of it."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--confirming", type=int, default=2)
    parser.add_argument("--inspecting", type=int, default=1)
    parser.add_argument("--reading", type=int, default=1)
    told = parser.parse_args()
    steps = [
        *[confirming] * told.confirming, *[inspecting] * told.inspecting,
        *[reading] * told.reading, looking,
    ]  # fmt: skip
    with tempfile.TemporaryDirectory(prefix="together-") as folder:
        came = work_together(Path(folder), steps, told.seconds)
    for step, each in zip(steps, came, strict=True):
        print(
            f"{step.__name__:<11} {sum(each['done'].values()):>6} done, {each['refused']} too late, "
            f"slowest step {each['slowest'] * 1000:.0f} ms"
        )
    print(f"{len(steps)} processes, {told.seconds:g} s: nothing lost, chain whole")


if __name__ == "__main__":
    main()

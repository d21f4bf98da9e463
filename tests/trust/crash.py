"""Kills real commands again and again, and counts what was lost: it must be nothing.

    python tests/trust/crash.py --kills 1000 [--seed 1]

Each kill is followed by the same questions: is the file whole, is every decision there that was
acknowledged on the screen, is none there twice, and does a copy of file and write-ahead log (with
a torn page behind, as a power cut leaves one) hold the same? In the end each job is run
undisturbed and has to complete. The exit status is 1 at the first fault.

What the screen showed is the witness here, not the register: the ids are parsed from it.
"""

import argparse
import random
import re
import shutil
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from stage import Kill, play

import stampreader.cli.app
import stampreader.photo
from stampreader.register import (
    add_by_hand,
    check_register,
    list_connectors,
    open_register,
    set_aside_of,
    waiting,
)

PHOTOS, GROUP = 60, 5
GOLDEN = Path(__file__).parent.parent / "golden" / "register-after-step-1.sqlite"
ACKNOWLEDGED = re.compile(r"^(?:> )? {2}(confirmed|undone): (.*)$", re.MULTILINE)


class Fault(AssertionError):
    """Something was lost, doubled or broken."""


def must(truth, words):
    """Stop at a fault."""
    if not truth:
        raise Fault(words)


def ids_in(words):
    """`C-0001, C-0002` or `C-0001 to C-0039 (39)` as a set of ids."""
    span = re.search(r"C-(\d+) to C-(\d+) \((\d+)\)", words)
    if span is None:
        return set(re.findall(r"C-\d+", words))
    ids = {f"C-{n:04d}" for n in range(int(span[1]), int(span[2]) + 1)}
    must(len(ids) == int(span[3]), f"{words} names {span[3]} ids that are not in a row")
    return ids


def power_cut(path, to, chance):
    """A copy of file and log, with half a page of rubbish behind the log."""
    for suffix in ("", "-wal"):
        source = Path(f"{path}{suffix}")
        Path(f"{to}{suffix}").unlink(missing_ok=True)
        if source.exists():
            shutil.copy(source, f"{to}{suffix}")
    log = Path(f"{to}-wal")
    if log.exists():
        with log.open("ab") as file:
            file.write(chance.randbytes(chance.randrange(1, 5000)))
    Path(f"{to}-shm").unlink(missing_ok=True)
    return to


def seen(path):
    """Ids in the register and how many wait and were set aside; the register must be whole."""
    with open_register(path) as book:
        faults = list(check_register(book))
        must(not faults, f"{path.name}: {faults}")
        ids = [connector.id for connector in list_connectors(book)]
        must(len(ids) == len(set(ids)), "an id stands twice")
        return set(ids), len(waiting(book))


def events_of(path):
    """Number of events; 0 where there is no register yet."""
    if not path.exists() or not path.stat().st_size:
        return 0
    with open_register(path, read_only=True) as book:
        return book.rows("SELECT count(*) AS n FROM events")[0]["n"]


class Intake:
    """A delivery of 60 photos in 12 groups, answered at the prompt."""

    name = "intake"

    def __init__(self, folder, chance):
        self.chance, self.register = chance, folder / "intake.sqlite"
        self.photos = folder / "photos"
        self.photos.mkdir()
        for number in range(PHOTOS):
            photo = self.photos / f"{20 + number // GROUP}-{number:03d}.jpg"
            photo.write_bytes(b"%d %d" % (number, chance.randrange(10**9)))
        self.ids = set()

    def words(self):
        """`intake`, or `confirm` where all are read already."""
        on = ["--register", self.register, "--who", "Ada"]
        started = self.register.exists() and self.chance.random() < 0.3
        if started and events_of(self.register):
            return ["confirm", *on]
        return ["intake", self.photos, "--delivery", "Spring", *on]

    def answer(self, shown):
        """Mostly yes; now and then undo, or take one out of its group."""
        return self.chance.choices(
            ["y", "u", "t 1" if "connectors agree" in shown else "y"], [8, 1, 1]
        )[0]

    def patient(self, shown):
        """Yes to all."""
        return "y"

    def after(self, played):
        """What was acknowledged is there; at most the one decision under way as well."""
        for word, named in ACKNOWLEDGED.findall(played.shown):
            self.ids = self.ids | ids_in(named) if word == "confirmed" else self.ids - ids_in(named)
        if not self.register.exists():
            must(not self.ids, "the register is gone")
            return
        there, left = seen(self.register)
        new, gone = there - self.ids, self.ids - there
        must(not gone or played.pending == "u", f"lost: {sorted(gone)}")
        must(not new or played.pending == "y", f"not asked for: {sorted(new)}")
        must(max(len(new), len(gone)) <= GROUP, f"more than one decision: {new} {gone}")
        must(len(there) + left in (0, PHOTOS), f"{len(there)} entered and {left} waiting")
        cut = power_cut(self.register, self.register.with_name("cut.sqlite"), self.chance)
        must((there, left) == seen(cut), "a power cut leaves another register")
        self.ids = there

    def complete(self):
        """Every photo is one connector, with the figure of its group."""
        with open_register(self.register) as book:
            rows = book.rows(
                "SELECT c.id, c.closed_kN AS kN, p.name FROM connectors c"
                " JOIN connector_photos j ON j.uid = c.uid JOIN photos p ON p.sha256 = j.photo"
                " WHERE c.life != 'withdrawn'"
            )
            must(not set_aside_of(book, "Spring"), "something was set aside by itself")
        must(len(rows) == PHOTOS == len({row["name"] for row in rows}), f"{len(rows)} entered")
        for row in rows:
            must(str(row["kN"]) == Path(row["name"]).name[:2], f"{row} has another's figure")


class _Whole:
    """A job that is stored whole or not at all."""

    def __init__(self, folder, chance):
        self.chance, self.folder = chance, folder
        self.register = folder / f"{self.name}.sqlite"
        self.other = folder / f"{self.name}-other.sqlite"
        for path, count in ((self.register, 3), (self.other, 25)):
            with open_register(path, create=True) as book:
                for number in range(count):
                    add_by_hand(
                        book, {"closed_kN": "27", "id": f"{path.stem}-{number}"}, who="Ada",
                        at=stampreader.cli.common.now(),
                    )  # fmt: skip
        self.before = events_of(self.register)

    def answer(self, shown):
        """Nothing is asked here."""
        raise Fault(f"asked: {shown[-200:]}")

    patient = answer

    def after(self, played):
        """All or nothing, and nothing half."""
        seen(self.register)
        now = events_of(self.register)
        must(now in (self.before, self.before + 25) or not played.killed, f"{now} events: half")
        cut = power_cut(self.register, self.register.with_name("cut.sqlite"), self.chance)
        seen(cut)
        must(now == events_of(cut), "a power cut leaves another register")

    def complete(self):
        """All 28 are there."""
        must(len(seen(self.register)[0]) == 28, "not all taken over")


class Merge(_Whole):
    """Another station's register."""

    name = "merge"

    def words(self):
        """`merge`."""
        return ["merge", self.other, "--register", self.register, "--who", "Ada"]


class Import(_Whole):
    """Another station's exchange file."""

    name = "import"

    def __init__(self, folder, chance):
        super().__init__(folder, chance)
        self.file = folder / "other.jsonl"
        words = ["export", "--to", self.file, "--register", self.other]
        must(play(words, Kill(), self.answer).status == 0, "export fails")

    def words(self):
        """`import`."""
        return ["import", self.file, "--register", self.register, "--who", "Ada"]


class Backup(_Whole):
    """A copy in the place of an older one, which stays until the new one is whole."""

    name = "backup"

    def __init__(self, folder, chance):
        super().__init__(folder, chance)
        self.copy = folder / "copy.sqlite"

    def words(self):
        """`backup --overwrite`."""
        return ["backup", self.copy, "--overwrite", "--register", self.other]

    def after(self, played):
        """The register is untouched; the copy is absent or whole."""
        must(len(seen(self.other)[0]) == 25, "the register itself suffered")
        if self.copy.exists():
            must(len(seen(self.copy)[0]) == 25, "a broken copy took its place")

    def complete(self):
        """The copy is there."""
        self.after(None)
        must(self.copy.exists(), "no copy")


class Migration:
    """A register of an earlier version is brought up to date."""

    name = "migration"

    def __init__(self, folder, chance):
        self.chance, self.register = chance, folder / "old.sqlite"
        self.before = None

    def words(self):
        """Any command that writes brings it up to date."""
        for old in self.register.parent.glob("old*"):
            old.unlink()
        shutil.copy(GOLDEN, self.register)
        self.before = self.before or self._content(GOLDEN)
        return ["settings", "--register", self.register]

    def answer(self, shown):
        """Nothing is asked here."""
        raise Fault(f"asked: {shown[-200:]}")

    patient = answer

    def after(self, played):
        """History and entries are those of before; the copy kept is whole."""
        must(self.before == self._content(self.register), "the history is another")
        for copy in self.register.parent.glob("old.before-step-*.sqlite"):
            must(self.before == self._content(copy), f"{copy.name} is not whole")
        seen(self.register)

    def complete(self):
        """It is up to date."""
        seen(self.register)

    def _content(self, path):
        """Every event and its hash, read with nothing but SQLite."""
        import sqlite3
        from contextlib import closing

        with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as conn:
            must("ok" == conn.execute("PRAGMA integrity_check").fetchone()[0], f"{path} damaged")
            return conn.execute(
                "SELECT station, number, body, hash FROM events ORDER BY station, number"
            ).fetchall()


JOBS = (Intake, Intake, Merge, Intake, Import, Intake, Backup, Intake, Migration)
KILLS_A_JOB = 5


def one_job(kind, chance, most):
    """Kill a job up to `most` times, then let it complete; gives the number of kills."""
    kills = 0
    with tempfile.TemporaryDirectory(prefix="crash-") as name:
        folder = Path(name)
        job, rehearsal = kind(folder, chance), folder / "rehearsal"
        rehearsal.mkdir()
        points, longest = measure(kind, rehearsal)
        for _ in range(most):
            kill = (
                Kill(at_point=chance.randint(1, points))
                if chance.random() < 0.5
                else Kill(after_s=chance.uniform(0.01, longest))
            )
            played = play(job.words(), kill, job.answer)
            job.after(played)
            kills += played.killed
            if played.status == 0 and isinstance(job, Intake) and not waiting_in(job.register):
                break
        played = play(job.words(), Kill(), job.patient)
        must(played.status == 0, f"does not complete: {played.shown[-500:]}")
        job.after(played)
        while isinstance(job, Intake) and waiting_in(job.register):
            played = play(job.words(), Kill(), job.patient)
            job.after(played)
        job.complete()
    return kills


def waiting_in(path):
    """How many wait."""
    return seen(path)[1]


MEASURED = {}


def measure(kind, folder):
    """Fault points and seconds of an undisturbed run, measured once."""
    if kind not in MEASURED:
        job = kind(folder, random.Random(0))
        count = folder / "points"
        played = play(job.words(), Kill(), job.patient, points=count)
        must(played.status == 0, f"{kind.name} fails undisturbed: {played.shown[-800:]}")
        MEASURED[kind] = int(count.read_text("utf-8")), played.seconds
    return MEASURED[kind]


def main():
    """Kill until the number asked for is reached."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kills", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=random.randrange(10**6))
    told = parser.parse_args()
    chance, start, done, turn = random.Random(told.seed), time.monotonic(), Counter(), 0
    try:
        while done.total() < told.kills:
            kind = JOBS[turn % len(JOBS)]
            most = min(KILLS_A_JOB, told.kills - done.total())
            done[kind.name] += one_job(kind, chance, most)
            turn += 1
    except Fault as fault:
        print(f"FAULT in {kind.name}, seed {told.seed}, after {done.total()} kills: {fault}")
        return 1
    each = ", ".join(f"{name} {count}" for name, count in done.items())
    print(
        f"{done.total()} kills ({each}), seed {told.seed}, {time.monotonic() - start:.0f} s: "
        "0 acknowledged decisions lost, 0 doubled, every job completed"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())

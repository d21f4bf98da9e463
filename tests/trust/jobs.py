"""The jobs that are killed, and the questions asked after each kill.

What the screen showed is the witness here, not the register: the ids are parsed from it.
"""

import re
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

from stage import Kill, play

import stampreader.photo
from stampreader.cli.common import now
from stampreader.register import (
    add_by_hand,
    check_register,
    list_connectors,
    open_register,
    set_aside_of,
    waiting,
)

assert stampreader.photo, "loaded before the copies are made, so that each is quick"
GROUP = 5
GOLDEN = Path(__file__).parent.parent / "golden" / "register-after-step-1.sqlite"
ACKNOWLEDGED = re.compile(r"^(?:> )? {2}(confirmed|undone): (.*)\n", re.MULTILINE)


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


def begun(path):
    """Whether anything was written yet: a kill at the very start leaves a file of no bytes, which
    the program calls no register and begins afresh."""
    return path.exists() and path.stat().st_size > 0


def log_of(path):
    """The write-ahead log of a register."""
    return path.with_name(path.name + "-wal")


def log_size(path):
    """Bytes in the write-ahead log."""
    log = log_of(path)
    return log.stat().st_size if log.exists() else 0


def power_cut(path, chance, flushed=None):
    """A copy of file and log as a power cut may leave them.

    Args:
        path: the register.
        chance: where the log is cut, and the rubbish behind it.
        flushed: bytes of the log known to be on the disk; what was written later may be gone.
    """
    to = path.with_name("cut.sqlite")
    for suffix in ("", "-wal", "-shm"):
        Path(f"{to}{suffix}").unlink(missing_ok=True)
    shutil.copy(path, to)
    if log_of(path).exists():
        log = log_of(path).read_bytes()
        least = len(log) if flushed is None else min(flushed, len(log))
        keep = chance.choice([least, chance.randint(least, len(log)), len(log)])
        log_of(to).write_bytes(log[:keep] + chance.randbytes(chance.randrange(1, 5000)))
    return to


def seen(path):
    """Ids in the register and how many wait; the register must be whole."""
    if not begun(path):
        return set(), 0
    with open_register(path) as book:
        faults = list(check_register(book))
        must(not faults, f"{path.name}: {faults}")
        ids = [connector.id for connector in list_connectors(book)]
        must(len(ids) == len(set(ids)), "an id stands twice")
        return set(ids), len(waiting(book))


def events_of(path):
    """Number of events; 0 where there is no register yet."""
    if not begun(path):
        return 0
    with open_register(path) as book:
        return book.rows("SELECT count(*) AS n FROM events")[0]["n"]


class Intake:
    """A delivery of 60 photos in 12 groups, answered at the prompt."""

    name = "intake"
    size = 60

    def __init__(self, folder, chance):
        self.chance, self.register = chance, folder / "intake.sqlite"
        self.photos = folder / "photos"
        self.photos.mkdir()
        for number in range(self.size):
            photo = self.photos / f"{20 + number // GROUP}-{number:03d}.jpg"
            photo.write_bytes(b"%d %d" % (number, chance.randrange(10**9)))
        self.ids, self.flushed = set(), 0

    def words(self):
        """`intake`, or `confirm` where all are read already."""
        self.flushed = 0
        on = ["--register", self.register, "--who", "Ada"]
        if self.chance.random() < 0.3 and events_of(self.register):
            return ["confirm", *on]
        return ["intake", self.photos, "--delivery", "Spring", *on]

    def answer(self, shown):
        """Mostly yes; now and then undo, or take one out of its group."""
        self.flushed = log_size(self.register)
        return self.chance.choices(
            ["y", "u", "t 1" if "connectors agree" in shown else "y"], [8, 1, 1]
        )[0]

    def patient(self, shown):
        """Yes to all."""
        self.flushed = log_size(self.register)
        return "y"

    def after(self, played):
        """What was acknowledged is there; at most the one decision under way as well."""
        for word, named in ACKNOWLEDGED.findall(played.shown):
            self.ids = self.ids | ids_in(named) if word == "confirmed" else self.ids - ids_in(named)
        if not begun(self.register):
            must(not self.ids, "the register is gone")
            return
        done = bool(ACKNOWLEDGED.search(played.since)) or not played.killed
        under_way = "" if done else played.pending
        cut = power_cut(self.register, self.chance, None if done else self.flushed)
        there, left = self._look(self.register, under_way)
        self._look(cut, under_way)
        must(len(there) + left in (0, self.size), f"{len(there)} entered and {left} waiting")
        self.ids = there

    def _look(self, path, under_way):
        """Acknowledged ids stand in the register; what is more belongs to the last answer."""
        there, left = seen(path)
        new, gone = there - self.ids, self.ids - there
        must(not gone or under_way == "u", f"{path.name}: lost: {sorted(gone)}")
        must(not new or under_way == "y", f"{path.name}: not asked for: {sorted(new)}")
        must(max(len(new), len(gone)) <= GROUP, f"{path.name}: two decisions: {new} {gone}")
        return there, left

    def is_done(self):
        """Nothing waits."""
        there, left = seen(self.register)
        return bool(there) and not left

    def complete(self):
        """Every photo is one connector, with the figure of its group."""
        with open_register(self.register) as book:
            rows = book.rows(
                "SELECT c.id, c.closed_kN AS kN, p.name FROM connectors c"
                " JOIN connector_photos j ON j.uid = c.uid JOIN photos p ON p.sha256 = j.photo"
                " WHERE c.life != 'withdrawn'"
            )
            must(not set_aside_of(book, "Spring"), "something was set aside by itself")
        must(len(rows) == self.size == len({row["name"] for row in rows}), f"{len(rows)} entered")
        for row in rows:
            must(str(row["kN"]) == Path(row["name"]).name[:2], f"{row} has another's figure")


class _Unasked:
    """A job that asks nothing."""

    def answer(self, shown):
        """Nothing is asked here."""
        raise Fault(f"asked: {shown[-200:]}")

    patient = answer

    def is_done(self):
        """It may be done again and again."""
        return False


class _Whole(_Unasked):
    """A job that is stored whole or not at all."""

    def __init__(self, folder, chance):
        self.chance, self.folder = chance, folder
        self.register = folder / f"{self.name}.sqlite"
        self.other = folder / f"{self.name}-other.sqlite"
        for path, count in ((self.register, 3), (self.other, 25)):
            with open_register(path, create=True) as book:
                for number in range(count):
                    fields = {"closed_kN": "27", "id": f"{path.stem}-{number}"}
                    add_by_hand(book, fields, who="Ada", at=now())
        self.before = events_of(self.register)

    def after(self, played):
        """All or nothing, and nothing half; acknowledged means all."""
        done = "taken over" in played.shown
        cut = power_cut(self.register, self.chance, None if done or not played.killed else 0)
        for path in (self.register, cut):
            seen(path)
            now_there = events_of(path) - self.before
            must(now_there in (0, 25), f"{path.name}: {now_there} of 25 events: half")
            must(now_there == 25 or not done, f"{path.name}: acknowledged and not there")

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
        """The register is untouched; the copy is absent or whole, and there once it was said so."""
        must(len(seen(self.other)[0]) == 25, "the register itself suffered")
        must(self.copy.exists() or "read back and whole" not in played.shown, "no copy")
        if self.copy.exists():
            must(len(seen(self.copy)[0]) == 25, "a broken copy took its place")

    def complete(self):
        """The copy is there."""
        must(self.copy.exists(), "no copy")


class Migration(_Unasked):
    """A register of an earlier version is brought up to date."""

    name = "migration"

    def __init__(self, folder, chance):
        self.chance, self.register = chance, folder / "old.sqlite"
        self._begin_again()
        self.before = self._content(self.register)

    def _begin_again(self):
        for old in self.register.parent.glob("old*"):
            old.unlink()
        shutil.copy(GOLDEN, self.register)

    def words(self):
        """Any command that writes brings it up to date."""
        if self.chance.random() < 0.7:  # else go on with what the kill before left
            self._begin_again()
        return ["settings", "--register", self.register]

    def after(self, played):
        """History and entries are those of before; every copy kept is whole."""
        cut = power_cut(self.register, self.chance, 0 if played.killed else None)
        copies = self.register.parent.glob("old.before-step-*.sqlite")
        for path in (self.register, cut, *copies):
            must(self.before == self._content(path), f"{path.name}: the history is another")
        for path in (self.register, cut):
            seen(path)
        for copy in cut.parent.glob("cut.before-step-*"):
            copy.unlink()

    def complete(self):
        """It is up to date."""
        seen(self.register)

    def _content(self, path):
        """Every event and its hash, read with nothing but SQLite."""
        with closing(sqlite3.connect(path)) as conn:
            must("ok" == conn.execute("PRAGMA integrity_check").fetchone()[0], f"{path} damaged")
            return conn.execute(
                "SELECT station, number, body, hash FROM events ORDER BY station, number"
            ).fetchall()


JOBS = (Intake, Merge, Intake, Import, Intake, Backup, Intake, Migration)

"""Kills real commands again and again, and counts what was lost: it must be nothing.

    python tests/trust/crash.py --kills 1000 [--seed 1]

Each kill is followed by the same questions: is the file whole, is every decision there that was
acknowledged on the screen, is none there twice, and does a copy of file and write-ahead log (cut
anywhere behind what was on the disk at the last prompt, with a torn page behind, as a power cut
leaves one) hold the same? In the end each job is run undisturbed and has to complete. The exit
status is 1 at the first fault; everything needed to look into it is then printed and kept.
"""

import argparse
import random
import shutil
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from jobs import JOBS, must
from stage import Kill, play, warm_up

KILLS_A_JOB = 8
MEASURED = {}


@dataclass
class Tally:
    """What was killed, and where.

    Attributes:
        kills: kills of each job.
        places: kills at each kind of fault point; "at a moment" for those by the clock.
    """

    kills: Counter = field(default_factory=Counter)
    places: Counter = field(default_factory=Counter)

    def count(self, job, played):
        """Count one command that was to be killed."""
        if played.killed:
            self.kills[job.name] += 1
            self.places[played.place or "at a moment"] += 1


class Turn:
    """One job, killed a few times and then let complete; keeps the evidence of a fault."""

    def __init__(self, kind, chance, folder):
        self.kind, self.chance, self.folder = kind, chance, folder
        self.lines, self.last = [], None

    def run(self, most, tally):
        """Kill up to `most` times, then let the job complete."""
        points, longest = measured(self.kind, self.folder)
        job = self.kind(self.folder, self.chance)
        for _ in range(most):
            self._play(job, self._kill(points, longest), job.answer, tally)
            if job.is_done():
                break
        # a second run of a finished job changes nothing
        for _ in range(self.chance.choice([1, 1, 2])):
            played = self._play(job, Kill(), job.patient, tally)
            must(played.status == 0, "does not complete")
        job.complete()

    def _kill(self, points, longest):
        """By the clock or at a point; rather early, for a job that goes on has less before it."""
        share = self.chance.random() ** 1.5
        if self.chance.random() < 0.5:
            return Kill(at_point=1 + int(points * share))
        return Kill(after_s=0.005 + longest * share)

    def _play(self, job, kill, answer, tally):
        words = job.words()
        self.lines.append(f"{' '.join(map(str, words))} with {kill}")
        self.last = played = play(words, kill, answer)
        self.lines[-1] += (
            f": killed {played.killed}, status {played.status}, {played.seconds:.3f} s, "
            f"{played.points} points, at {played.place!r}, typed last {played.pending!r}"
        )
        tally.count(job, played)
        job.after(played)
        return played

    def evidence(self):
        """All that was done in this turn, and the last screen."""
        shown = self.last.shown[-2500:] if self.last else ""
        kept = Path(tempfile.mkdtemp(prefix="crash-kept-"))
        shutil.copytree(self.folder, kept, dirs_exist_ok=True)
        return "\n".join([*self.lines, "--- the last screen ---", shown, f"--- files: {kept}"])


def measured(kind, folder):
    """Fault points and seconds of an undisturbed run, measured once."""
    if kind not in MEASURED:
        place = folder / "rehearsal"
        place.mkdir()
        job = kind(place, random.Random(0))
        played = play(job.words(), Kill(), job.patient)
        must(played.status == 0, f"{kind.name} fails undisturbed: {played.shown[-800:]}")
        MEASURED[kind] = played.points, played.seconds
    return MEASURED[kind]


def kill_many(kills, seed):
    """Kill until the number is reached; gives the tally, or ends the program at a fault."""
    warm_up()
    chance, tally, number = random.Random(seed), Tally(), 0
    while tally.kills.total() < kills:
        kind = JOBS[number % len(JOBS)]
        most = min(KILLS_A_JOB, kills - tally.kills.total())
        with tempfile.TemporaryDirectory(prefix="crash-") as name:
            turn = Turn(kind, chance, Path(name))
            try:
                turn.run(most, tally)
            except BaseException as fault:
                print(
                    f"FAULT in {kind.name}, seed {seed}, turn {number}, after "
                    f"{tally.kills.total()} kills: {type(fault).__name__}: {fault}\n"
                    f"{turn.evidence()}"
                )
                raise
        number += 1
    return tally


def main():
    """Kill as often as asked for and print what came of it."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kills", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=random.randrange(10**6))
    told = parser.parse_args()
    start = time.monotonic()
    tally = kill_many(told.kills, told.seed)
    each = ", ".join(f"{name} {count}" for name, count in tally.kills.items())
    print(
        f"{tally.kills.total()} kills ({each}), seed {told.seed}, "
        f"{time.monotonic() - start:.0f} s: "
        "0 acknowledged decisions lost, 0 doubled, every job completed"
    )
    print("killed " + ", ".join(f"{n} × {place}" for place, n in tally.places.most_common()))


if __name__ == "__main__":
    main()

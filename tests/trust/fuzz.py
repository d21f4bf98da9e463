"""Throws hostile input at every door of the program: it may refuse, it may not fall over.

    python tests/trust/fuzz.py --cases 100000 [--seed 1] [--only photo]
    python tests/trust/fuzz.py --only photo --seed 1 --case 4711      # one case again, with its trace

Cases run in batches in child processes, so that a decoder that crashes or hangs is a finding and
not the end of the run. Every case can be repeated from the seed and its number. The exit status is
1 if anything was found.
"""

import argparse
import faulthandler
import mmap
import os
import random
import resource
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from hostile import TARGETS, clear

from stampreader.errors import StampError

BATCH = 500
MOST_S = 20.0
"""A case that takes longer hangs."""
MOST_BYTES = 4 * 2**30
"""Address space of a batch, as a worker that reads photos has."""


def chance_of(seed, name, case):
    """The source of chance of one case."""
    return random.Random(f"{seed} {name} {case}")


def run_case(target, chance):
    """One case: "fine", the kind of the error it was refused with, or an exception."""
    try:
        target.case(chance)
    except StampError as error:
        assert error.line().isprintable(), f"not one plain line: {error.line()!r}"
        return error.kind
    return "fine"


def run_batch(name, seed, cases, note):
    """In a child: run the cases of a batch, and leave counts and findings in the shared note."""
    resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
    faulthandler.disable()
    _quiet()
    folder = Path(tempfile.mkdtemp(prefix="fuzz-"))
    counts, found = Counter(), []
    try:
        target = TARGETS[name](folder)
        for case in cases:
            note[:8] = (case + 1).to_bytes(8, "big")
            try:
                counts[run_case(target, chance_of(seed, name, case))] += 1
            except BaseException:
                counts["found"] += 1
                last = traceback.format_exc().strip().splitlines()
                found.append(f"{name} {case}: {' | '.join(last[-4:])}"[:600])
    finally:
        text = repr((dict(counts), found[:20])).encode("utf-8", "replace")
        note[8 : 12 + len(text)] = len(text).to_bytes(4, "big") + text
        clear(folder)


def _quiet():
    """What decoders in C say to the terminal by themselves is not wanted."""
    null = os.open(os.devnull, os.O_WRONLY)
    os.dup2(null, 2)
    os.dup2(null, 1)


def watch(child, note):
    """Wait for a batch; what it died of, if it did. A case that hangs is killed."""
    seen, since = b"", time.monotonic()
    while True:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            code = os.waitstatus_to_exitcode(status)
            return "" if code == 0 else f"ended with {code}"
        if note[:8] != seen:
            seen, since = note[:8], time.monotonic()
        if time.monotonic() - since > MOST_S:
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
            return f"hangs for more than {MOST_S:g} s"
        time.sleep(0.01)


def attack(name, seed, cases):
    """Run cases of a target; gives counts of outcomes, and findings."""
    counts, found, left = Counter(), [], list(cases)
    while left:
        batch, note = left[:BATCH], mmap.mmap(-1, 2**20)
        child = os.fork()
        if child == 0:
            status = 3
            try:
                run_batch(name, seed, batch, note)
                status = 0
            finally:
                os._exit(status)
        died = watch(child, note)
        if died:
            case = int.from_bytes(note[:8], "big") - 1
            found.append(f"{name} {case}: {died}")
            left = [n for n in left if n > case]
            counts["lost"] += 1
            if case < 0:
                break
            continue
        size = int.from_bytes(note[8:12], "big")
        told, findings = eval(note[12 : 12 + size].decode())  # written by run_batch alone
        counts.update(told)
        found += findings
        left = left[BATCH:]
    return counts, found


def main():
    """Attack every target and print what came of it."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cases", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", choices=sorted(TARGETS))
    parser.add_argument("--case", type=int)
    told = parser.parse_args()
    if told.case is not None:
        with tempfile.TemporaryDirectory() as folder:
            target = TARGETS[told.only](Path(folder))
            print(run_case(target, chance_of(told.seed, told.only, told.case)))
        return 0
    names = [told.only] if told.only else list(TARGETS)
    total, all_found = 0, []
    weight = sum(TARGETS[name].share for name in names)
    for name in names:
        start = time.monotonic()
        cases = -(-told.cases * TARGETS[name].share // weight)
        counts, found = attack(name, told.seed, range(cases))
        total, all_found = total + counts.total(), all_found + found
        each = ", ".join(f"{count} {kind}" for kind, count in counts.most_common())
        took = time.monotonic() - start
        print(f"{name:<9}{cases:>7} cases {took:>6.0f} s: {each}; {len(found)} found", flush=True)
    for line in all_found[:40]:
        print(f"FOUND {line}")
    print(f"{total} cases, seed {told.seed}: {len(all_found)} findings")
    return 1 if all_found else 0


if __name__ == "__main__":
    sys.exit(main())

"""Broken plans end in a message that names the line, never in a traceback or a wrong number."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from stampreader.errors import PlanError, StampError
from stampreader.rig import Known, Plan, Worked, read_plan, what_if, work_out

Read = Callable[..., Plan]
ROOT = Path(__file__).resolve().parents[2]
READY = sorted((ROOT / "stampreader" / "rig" / "ready").glob("*.toml"))

BASE = """\
title = "Base"
[point.top]
kind = "anchor"
at = [0, 0]
efficiency = 0.8
held_by = [{ figures = "27/8/7" }]
[point.load]
kind = "load"
at = [0, -4]
force = "2 kN"
[point.hand]
kind = "hand"
at = [3, -2]
[rope.main]
path = ["load", "top", "hand"]
"""

V = """\
[point.load]
kind = "load"
at = [0, 0]
force = "2 kN"
[point.a]
kind = "anchor"
at = [-1, 1]
[point.b]
kind = "anchor"
at = [1, 1]
[anchor.main]
joins = "load"
legs = ["a", "b"]
"""


def _base(old: str, new: str) -> str:
    assert old in BASE
    return BASE.replace(old, new, 1)


def _v(old: str, new: str) -> str:
    assert old in V
    return V.replace(old, new, 1)


POINTS = "".join(f"[point.p{n}]\nkind = 'anchor'\nat = [{n}, 0]\n" for n in range(50))

CASES = {
    "unknown point in a rope": (_base('"top", "hand"', '"tip", "hand"'), 15, "'tip', which is no point", "Did you mean 'top'"),
    "rope through nothing": (_base('["load", "top", "hand"]', "[]"), 15, "does not run", "path"),
    "rope of one point": (_base('["load", "top", "hand"]', '["load"]'), 15, "does not run", "path"),
    "floating point": (BASE + "[point.lost]\nat = [1, 1]\n", 16, "'lost' floats", "take it out"),
    "nothing fixed": (BASE + "[point.c]\nat = [5, 5]\n[point.d]\nat = [6, 5]\n[rope.x]\npath = ['c', 'd']\n", 16, "nothing fixed holds", "Tie it"),
    "out of balance": (_base("at = [0, -4]", "at = [1, -4]"), 7, "not in balance", "Place it where"),
    "over-constrained": (BASE + "[point.high]\nkind = 'anchor'\nat = [0, 5]\n[rope.second]\npath = ['load', 'high']\n", 19, "cannot tell how much", "Take one out"),
    "three legs said exact": (_v('"b"]', '"b", "c"]\nsharing = "exact"') + "[point.c]\nkind = 'anchor'\nat = [0, 1]\n", 11, "does not decide", "cautious"),
    "zero efficiency": (_base("0.8", "0"), 5, "zero lets no tension", "Give 1"),
    "negative efficiency": (_base("0.8", "-0.5"), 5, "cannot be -0.5", "0.05 to 1"),
    "efficiency over one": (_base("0.8", "1.2"), 5, "cannot be 1.2", "0.05 to 1"),
    "efficiency missing": (_base("efficiency = 0.8\n", ""), 2, "no efficiency", "Give the share"),
    "load without unit": (_base('"2 kN"', "2"), 10, "no unit", '"2 kN"'),
    "load in metres": (_base('"2 kN"', '"2 m"'), 10, "unknown unit", "2 kN"),
    "load of two units": (_base('"2 kN"', '"2 kN lbf"'), 10, "not understood", "2 kN"),
    "negative load": (_base('"2 kN"', '"-2 kN"'), 10, "negative", "2 kN"),
    "length in another unit": (_base("at = [0, -4]", 'at = [0, "-4 ft"]'), 9, "not a length in m", "number in m"),
    "unknown length unit": ('lengths = "yd"\n' + BASE, 1, "not known", '"m" or "ft"'),
    "strength in people": (_base('figures = "27/8/7"', 'name = "x", strength = "2 people"'), 6, "not counted in people", "27 kN"),
    "angle without convention": (_v("at = [-1, 1]\n", "").replace("at = [1, 1]\n", "") + "angle = 60\nleg_length = 1\n", 12, "does not say what it is measured from", "convention"),
    "angle and places": (V + "angle = 60\nconvention = 'included'\nleg_length = 1\n", 7, "has a place and its leg an angle", "Keep"),
    "convention alone": (V + "convention = 'included'\n", 14, "without an angle", "angle"),
    "included angle of 180": (_v("at = [-1, 1]", "at = [-1, 0]").replace("at = [1, 1]", "at = [1, 0]"), 11, "180° included", "Lower"),
    "leg that would push": (_v("at = [1, 1]", "at = [-2, 1]"), 11, "would have to push", "Move the anchor"),
    "two legs to one point": (_v('"a", "b"', '"a", "a"'), 11, "go to one point", "once"),
    "five legs": (_v('"a", "b"', '"a", "b", "a", "b", "a"'), 13, "5 legs", "one to four"),
    "leg to a joint": (_v("kind = \"anchor\"\nat = [1, 1]", "at = [1, 1]"), 12, "no anchor point", "kind = 'anchor'"),
    "fifty points": (POINTS + BASE, 121, "53 points, over 40", "Split"),
    "unknown key": (_base("efficiency", "efficency"), 5, "'efficency' is not known", "Did you mean 'efficiency'"),
    "unknown kind": (_base('"hand"\nat', '"man"\nat'), 12, "cannot be 'man'", "Choose one of"),
    "no load": (_base('kind = "load"\n', "").replace('force = "2 kN"\n', ""), 1, "no load", "kind = 'load'"),
    "force on a joint": (_base('kind = "load"\n', ""), 9, "only a load has a force", "kind = 'load'"),
    "one place for two": (_base("at = [0, -4]", "at = [0, 0]"), 14, "lie at one place", "Leave one"),
    "two and three coordinates": (_base("at = [0, -4]", "at = [0, -4, 1]"), 9, "has 3 coordinates", "two"),
    "placed in a circle": (_base("at = [0, -4]", "on = 'hand'").replace("at = [3, -2]", "on = 'load'"), 7, "circle", "'at'"),
    "anchor that hangs": (_base("at = [0, 0]", "on = 'load'"), 3, "hangs on another point", "Leave out"),
    "hand in the middle": (_base('["load", "top", "hand"]', '["load", "hand", "top"]'), 14, "runs on behind the hand", "End it"),
    "ends in a grab": (_base('"hand"]', '{ grab = "hand" }]'), 14, "ends in a grab", "run on"),
    "friction without a way": (_base('kind = "hand"', 'kind = "anchor"') + "\n", None, "", ""),
    "raising without a way": ('way = "raising"\n' + _base('kind = "hand"', 'kind = "anchor"'), 15, "does not say which way it moves", "towards"),
    "ratio of zero": ("ratio = 0\n" + BASE, 1, "zero", "10"),
    "ratio under one": ("ratio = 0.5\n" + BASE, 1, "more than the strength", "10"),
    "figures of two": (_base("27/8/7", "27/8"), 6, "not three figures", "27/8/7"),
    "strength lowered without a reason": (_base("27/8/7\"", '27/8/7", keeps = 0.5'), 6, "without saying why", "why"),
    "id without a register": (_base('figures = "27/8/7"', 'id = "C-1"'), 6, "no register", "figures"),
    "not a number": (_base("at = [0, -4]", "at = [0, nan]"), 9, "not a length", "number"),
    "infinite": (_base("at = [0, -4]", "at = [0, -inf]"), 9, "not a length", "number"),
    "far away": (_base("at = [0, -4]", "at = [0, -1e7]"), 9, "cannot be used", "number"),
    "text for a number": (_base("0.8", '"0.8"'), 5, "must be a number", "Write"),
    "number for a text": (_base('"Base"', "5"), 1, "must be a text", "Write"),
    "table for a list": (_base('held_by = [{ figures = "27/8/7" }]', "held_by = 3"), 6, "must be a list", "["),
    "not TOML": ("title = \n" + BASE, None, "not written as TOML", "Correct"),
    "brackets without end": ("a = " + "[" * 3000, None, "brackets", "Correct"),
    "empty": ("", 1, "no points", "--new"),
    "rope between fixed points": (BASE + "[point.x]\nkind = 'anchor'\nat = [9, 9]\n[rope.idle]\npath = ['top', 'x']\n", 19, "between fixed points only", "tension"),
    "load drawn sideways without a side": (_base('force = "2 kN"', 'force = "2 kN"\npull = { angle = 30, convention = "from vertical" }'), 11, "needs a side", "side"),
    "line too short": (_base("at = [0, -4]", 'place = { between = ["top", "hand"], line_length = 1 }'), 9, "does not sag", "longer"),
    "sag and length": (_base("at = [0, -4]", 'place = { between = ["top", "hand"], line_length = 9, sag = 1 }'), 9, "contradict", "Keep one"),
    "place and at": (_base("at = [0, -4]", 'at = [0, -4]\nplace = { between = ["top", "hand"] }'), 10, "contradict", "Keep one"),
    "wrong end": (BASE + "towards = 'top'\n", 16, "not one end", "Name one"),
}  # fmt: skip


@pytest.mark.parametrize("name", [name for name, case in CASES.items() if case[2]])
def test_a_mistake_is_named_with_its_line(name: str, read: Read) -> None:
    """The message says which line, what is wrong there and what to change."""
    text, line, what, remedy = CASES[name]
    with pytest.raises(PlanError) as caught:
        work_out(read(text))
    said = caught.value.line()
    assert what in said
    assert remedy in said
    assert "\n" not in said
    if line is not None:
        assert f"plan.toml, line {line}:" in said


def test_friction_needs_no_way_when_holding(read: Read) -> None:
    """A rope between fixed ends that rubs is worked out when holding: both ways are counted."""
    assert work_out(read(CASES["friction without a way"][0])).rows


def test_unknown_id(read: Read) -> None:
    """An id that is not in the register is named with its line."""
    text = _base('figures = "27/8/7"', 'id = "C-0404"')
    with pytest.raises(PlanError, match=r"line 6: connector 'C-0404' is not in the register"):
        read(text, lookup=lambda _: None)


# --- 1,000 random broken plans


def _balanced(worked: Worked) -> bool:
    """Whether the pulls on every free point cancel, added up anew from strands, legs and loads."""
    plan, solved = worked.plan, worked.forces.balance
    states = len(solved.tension_kN)
    sums = {n: np.zeros((states, plan.dimension)) for n, p in plan.points.items() if p.on is None}
    for index, strand in enumerate(solved.strands):
        tension = solved.tension_kN[:, index, None]
        a, b = (np.array(plan.points[end].at) for end in (strand.a, strand.b))
        way = (b - a) / np.linalg.norm(b - a)
        sums[plan.root(strand.a)] += tension * way
        sums[plan.root(strand.b)] -= tension * way
    for index, anchor in enumerate(plan.anchors):
        sums[anchor.joins] += solved.pull_kN[:, index]
    for name, point in plan.points.items():
        if point.force is not None:
            sums[plan.root(name)] += np.array(point.force)
    largest = max(
        1e-6,
        float(np.abs(solved.tension_kN).max(initial=0)),
        float(np.abs(solved.pull_kN).max(initial=0)),
    )
    free = [total for name, total in sums.items() if not plan.points[name].kind.fixed]
    return all(np.abs(total).max() < 1e-6 * largest for total in free)


JUNK = ["0", "-1", "nan", "inf", "1e308", "1e-9", '""', '"x"', "[]", "{}", "true", "[[[]]]", '"2 kN"', '"60°"', "60", '"included"', "99999999999999999999", '"\u0000"', "'load'", "1979-05-27", '["load"]', "{ grab = 'load' }"]  # fmt: skip


def _break(text: str, dice: random.Random) -> str:
    """One to four random faults in a plan."""
    for _ in range(dice.randint(1, 4)):
        lines = text.split("\n")
        at = dice.randrange(len(lines))
        kind = dice.randrange(8)
        if kind == 0:
            del lines[at]
        elif kind == 1:
            lines.insert(at, lines[dice.randrange(len(lines))])
        elif kind == 2 and "=" in lines[at]:
            lines[at] = lines[at].split("=")[0] + "= " + dice.choice(JUNK)
        elif kind == 3:
            numbers = list(re.finditer(r"-?\d+(\.\d+)?", lines[at]))
            if numbers:
                hit = dice.choice(numbers)
                new = str(round(dice.uniform(-5, 5), 2))
                lines[at] = lines[at][: hit.start()] + new + lines[at][hit.end() :]
        elif kind == 4:
            names = re.findall(r'"([a-z0-9-]+)"', text)
            if names:
                lines[at] = lines[at].replace(dice.choice(names), dice.choice(names))
        elif kind == 5:
            cut = dice.randrange(len(lines[at]) + 1)
            lines[at] = lines[at][:cut] + dice.choice('{}[]"=#\\é\x07') + lines[at][cut:]
        elif kind == 6:
            other = dice.randrange(len(lines))
            lines[at], lines[other] = lines[other], lines[at]
        else:
            lines = lines[:at]
        text = "\n".join(lines) or "x"
    return text


def test_a_thousand_broken_plans() -> None:
    """Random faults end in one line that names the file, or in a plan whose forces balance."""
    dice = random.Random(4)
    texts = [path.read_text("utf-8") for path in READY] + [BASE, V]
    refused = worked_out = 0
    for _ in range(1000):
        text = _break(dice.choice(texts), dice)
        try:
            worked = work_out(read_plan(text, "plan.toml", lookup=lambda id: Known(id)))
            what_if(worked)
        except StampError as error:
            refused += 1
            assert isinstance(error, PlanError), text
            assert "\n" not in error.line(), text
            assert str(error).startswith("plan.toml"), text
            assert error.remedy, text
        else:
            worked_out += 1
            assert _balanced(worked), text
            for row in worked.rows:
                assert row.judged.load_kN >= 0
    assert refused > 500
    assert worked_out > 20

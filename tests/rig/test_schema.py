"""The JSON Schema of a plan and the reader agree."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import jsonschema
import pytest

from stampreader.errors import PlanError
from stampreader.rig import read_plan

ROOT = Path(__file__).resolve().parents[2]
SCHEMA = json.loads((ROOT / "schema" / "rig-plan.schema.json").read_text("utf-8"))
READY = sorted((ROOT / "stampreader" / "rig" / "ready").glob("*.toml"))

EVERYTHING = """
title = "Every key"
about = ["one", "two"]
ratio = "15:1"
way = "holding"
lengths = "ft"
person = "1.0 kN"
[point.a]
kind = "anchor"
at = [0, 0]
turn = "connector"
efficiency = 0.5
meet = "ring"
held_by = [
    { figures = "27/8/7", loaded = "cross", name = "c", gate_towards_edge = true, keeps = 0.5, why = "set" },
    { strength = "9000 lbf", name = "plate" },
    { wanted = "redirect" },
]
[point.load]
kind = "load"
force = "1 people"
place = { from = "a", angle = 0, convention = "from vertical", distance = "6 ft" }
pull = { angle = 0, convention = "from vertical", side = "left" }
[point.hand]
kind = "hand"
place = { from = "a", with = "load", angle = 60, convention = "included", side = "right", distance = 5 }
[rope.main]
path = ["load", "a", "hand"]
towards = "hand"
strength = 30
keeps = 0.7
why = "knot, team setting"
[point.l]
kind = "anchor"
[point.r]
kind = "anchor"
[point.m]
kind = "load"
force = "1 kN"
at = [20, 0]
[anchor.top]
joins = "m"
legs = [{ to = "l", strength = "22 kN", name = "sling", keeps = 0.8, why = "worn" }, "r"]
angle = 60
convention = "included"
leg_length = 4
sharing = "one leg"
[point.c]
kind = "anchor"
at = [30, 0]
[point.d]
kind = "anchor"
at = [60, 0]
[point.low]
kind = "load"
force = "1 kN"
place = { between = ["c", "d"], share = 0.5, sag_percent = 10 }
[rope.one]
path = ["c", "low"]
[rope.two]
path = ["low", "d"]
[rope.guy]
path = ["c", "d"]
tension = "1 kN"
[fall]
load = "low"
drop = 1
rope = 3
modulus = "24 kN"
"""


@pytest.mark.parametrize("path", READY, ids=lambda path: path.stem)
def test_ready_plans_fit_the_schema(path: Path) -> None:
    """Every ready plan is valid under the schema."""
    jsonschema.validate(tomllib.loads(path.read_text("utf-8")), SCHEMA)


def test_every_key_is_known_to_both() -> None:
    """A plan that uses every key is valid, and is read."""
    jsonschema.validate(tomllib.loads(EVERYTHING), SCHEMA)
    assert "Every key" == read_plan(EVERYTHING, "plan.toml").title


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('kind = "anchor"\nat', 'kind = "bolt"\nat'),
        ('convention = "included"\nleg', "leg"),
        ("efficiency = 0.5", "efficiency = 0"),
        ('towards = "hand"', 'toward = "hand"'),
        ('force = "1 people"', "force = 1"),
        ('{ wanted = "redirect" }', "{ }"),
        ('modulus = "24 kN"', ""),
        ('sharing = "one leg"', 'sharing = "even"'),
    ],
)
def test_both_refuse(old: str, new: str) -> None:
    """What the schema refuses the reader refuses too."""
    text = EVERYTHING.replace(old, new, 1)
    assert text != EVERYTHING
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(tomllib.loads(text), SCHEMA)
    with pytest.raises(PlanError, match=r"plan\.toml, line \d+"):
        read_plan(text, "plan.toml")

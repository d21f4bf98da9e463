"""Rigs: a plan of ropes, anchors and connectors in; forces, margins and mishaps out. Pure.

Takes the text of a plan (TOML) and what the register knows of connectors; gives the plan, solved
by statics, with the margin of every piece of hardware, weakest first.
"""

from stampreader.rig.explain import explain
from stampreader.rig.fields import Source
from stampreader.rig.judge import Outcome, Row, Worked, work_out
from stampreader.rig.kit import (
    Filled,
    KitLine,
    Offers,
    OpenPlace,
    fill,
    kit_list,
    open_places,
    put_in,
)
from stampreader.rig.mishap import Mishap, Turned, What, WhatIf, what_if
from stampreader.rig.plan import Hold, Kind, Known, Lookup, Plan, Sharing, Way
from stampreader.rig.read import plan_of, read_plan
from stampreader.rig.vary import Crossing, Step, Varied, vary

__all__ = [
    "Crossing",
    "Filled",
    "Hold",
    "Kind",
    "KitLine",
    "Known",
    "Lookup",
    "Mishap",
    "Offers",
    "OpenPlace",
    "Outcome",
    "Plan",
    "Row",
    "Sharing",
    "Source",
    "Step",
    "Turned",
    "Varied",
    "Way",
    "What",
    "WhatIf",
    "Worked",
    "explain",
    "fill",
    "kit_list",
    "open_places",
    "plan_of",
    "put_in",
    "read_plan",
    "vary",
    "what_if",
    "work_out",
]

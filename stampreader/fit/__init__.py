"""Fit for the use: what a use asks of a connector, and what a competent person looks at. Pure.

Takes rules as text (TOML) and what is known of connectors; gives for each connector the reasons
why it does not do for a use, and kits drawn from those that do. Also holds the check list of an
inspection and which of its points a connector has at all.
"""

from stampreader.fit.draw import Drawn, Need, draw
from stampreader.fit.judge import Candidate, gate_does, mark_does, shape_does, unfit
from stampreader.fit.points import POINTS, CheckPoint, find_point, not_applicable
from stampreader.fit.uses import Gate, RulesError, Use, find_use, merged, read_uses

__all__ = [
    "POINTS",
    "Candidate",
    "CheckPoint",
    "Drawn",
    "Gate",
    "Need",
    "RulesError",
    "Use",
    "draw",
    "find_point",
    "find_use",
    "gate_does",
    "mark_does",
    "merged",
    "not_applicable",
    "read_uses",
    "shape_does",
    "unfit",
]

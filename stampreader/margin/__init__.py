"""Margins: stamped strengths, a load and a ratio in; margins, allowances and verdicts out.

Pure arithmetic. Strengths and loads are exact kilonewtons; a verdict compares the exact quotient
with the ratio, and only what is shown is rounded, to the safe side. A figure that is missing gives
no margin and counts as not allowed.
"""

from stampreader.margin.connector import ConnectorMargin, Strengths, judge_connector, weakest_first
from stampreader.margin.slot import SlotMargin, Verdict, judge_slot
from stampreader.margin.typed import parse_figures, parse_ratio

__all__ = [
    "ConnectorMargin",
    "SlotMargin",
    "Strengths",
    "Verdict",
    "judge_connector",
    "judge_slot",
    "parse_figures",
    "parse_ratio",
    "weakest_first",
]

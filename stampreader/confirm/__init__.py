"""Confirming: questions to a person and what their answers mean; no screen and no storage.

Takes arrivals (connectors that were read and wait) and what was ordered; gives questions, and for
each answer what is to be stored. Also tells how a delivery differs from its order, and whether a
connector in a photo is the one the register says it is.
"""

from __future__ import annotations

from stampreader.confirm.advice import Advice, standards_advice
from stampreader.confirm.bench import (
    Answer,
    Asked,
    Bench,
    Decision,
    Effect,
    Question,
    answered,
    entries_on,
    outcome,
    questions,
)
from stampreader.confirm.entry import Change, Entry, confirmed_entry, entry_of, put_together
from stampreader.confirm.matching import Matched, Taken, match, parse_label
from stampreader.confirm.order import (
    Difference,
    Order,
    assign,
    compare,
    figures_text,
    parse_figure,
    parse_figures,
    parse_order,
)
from stampreader.confirm.same import (
    Compared,
    Comparison,
    Known,
    Verdict,
    compare_with_register,
)

__all__ = [
    "Advice",
    "Answer",
    "Asked",
    "Bench",
    "Change",
    "Compared",
    "Comparison",
    "Decision",
    "Difference",
    "Effect",
    "Entry",
    "Known",
    "Matched",
    "Order",
    "Question",
    "Taken",
    "Verdict",
    "answered",
    "assign",
    "compare",
    "compare_with_register",
    "confirmed_entry",
    "entries_on",
    "entry_of",
    "figures_text",
    "match",
    "outcome",
    "parse_figure",
    "parse_figures",
    "parse_label",
    "parse_order",
    "put_together",
    "questions",
    "standards_advice",
]

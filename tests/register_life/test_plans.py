"""The questions of a working day use indexes: SQLite's own plans say so."""

from datetime import date

import pytest

from stampreader.register import (
    EVERYWHERE,
    Demands,
    Filter,
    Intervals,
    Shelf,
    Wanted,
    listing_sql,
    open_register,
    parse_spans,
)
from stampreader.register.due import due_sql
from stampreader.register.picking import candidates_sql, passed_over_sql, values_sql
from stampreader.register.trace import trace_sql

TODAY = date(2025, 6, 1)
USUAL = Intervals()
KITS = Intervals(12, {"Kit 1": 6, "Kit 2": 6, "Kit 3": 3})
LOCKING = Demands(gates=["screw gate", "twist lock"])
BELAY = Demands(gates=["screw gate"], shapes=["pear"], instead_of_shape=["EN 12275/H"])
STRONG = Demands(marks=[["NFPA 2500 G"]], least_N=40000)
BATCH = Wanted(maker="Felsnase", batches=parse_spans("24A, B1*, C1..C90"))
SERIALS = Wanted(serials=parse_spans("SN100..SN250"))
YEAR = Wanted(model="Pear", made=("2019", "2020"))


@pytest.fixture(scope="module")
def book(tmp_path_factory):
    """An empty register: SQLite plans without statistics, as on the first day."""
    path = tmp_path_factory.mktemp("plans") / "register.sqlite"
    with open_register(path, create=True) as register:
        yield register


def named(prefix, questions):
    """Questions that come several at a time, each with a name."""
    return {f"{prefix} {n}": question for n, question in enumerate(questions)}


QUESTIONS = {
    **named("due", due_sql(USUAL, TODAY, place="", delivery="", limit=200)),
    **named("due with kits", due_sql(KITS, TODAY, place="", delivery="", limit=0)),
    **named("due in a kit", due_sql(KITS, TODAY, place="Kit 1", delivery="", limit=0)),
    **named("due of a delivery", due_sql(KITS, TODAY, place="", delivery="Spring", limit=0)),
    "pick locking": candidates_sql(LOCKING, EVERYWHERE, USUAL, TODAY),
    "pick for a belay": candidates_sql(BELAY, EVERYWHERE, KITS, TODAY),
    "pick by mark and strength": candidates_sql(STRONG, EVERYWHERE, KITS, TODAY),
    "pick in a kit": candidates_sql(BELAY, Shelf(place="Kit 1"), KITS, TODAY),
    "pick of a delivery": candidates_sql(LOCKING, Shelf(delivery="Spring"), USUAL, TODAY),
    "pick of a model": candidates_sql(LOCKING, Shelf(model="Pear"), USUAL, TODAY),
    "passed over": passed_over_sql(EVERYWHERE, most=2000),
    "passed over in a kit": passed_over_sql(Shelf(place="Kit 1")),
    "trace a batch": trace_sql(BATCH, doubtful=False),
    "trace a batch, doubtful": trace_sql(BATCH, doubtful=True),
    "trace serials": trace_sql(SERIALS, doubtful=False),
    "trace serials, doubtful": trace_sql(SERIALS, doubtful=True),
    "trace a year": trace_sql(YEAR, doubtful=False),
    "list of a kit": listing_sql(Filter(place="Kit 1"), limit=200),
    "list by due": listing_sql(Filter(), sort="due", limit=200),
    **{f"values of {c}": (values_sql(c), []) for c in ("gate", "shape", "place", "mark")},
}


def plan_of(book, question):
    """SQLite's plan, a step a line."""
    sql, values = question
    return [str(row["detail"]) for row in book.rows(f"EXPLAIN QUERY PLAN {sql}", values)]


@pytest.mark.parametrize("question", QUESTIONS.values(), ids=QUESTIONS)
def test_no_question_reads_the_whole_table(book, question):
    """No plan scans a table (https://sqlite.org/eqp.html); walking an index in order is no scan."""
    plan = plan_of(book, question)
    scans = [s for s in plan if s.startswith("SCAN") and "USING" not in s and s != "SCAN found"]
    assert [] == scans, plan


@pytest.mark.parametrize("name", ["due 0", "due with kits 0", "pick locking", "passed over"])
def test_the_first_ones_come_straight_from_an_index(book, name):
    """Lists in order of days or ids are not sorted as a whole, so the first come at once."""
    plan = [s for s in plan_of(book, QUESTIONS[name]) if "TEMP B-TREE" in s]
    assert [] == [s for s in plan if s == "USE TEMP B-TREE FOR ORDER BY"], plan


@pytest.mark.parametrize("name", ["pick in a kit", "due in a kit 1", "passed over in a kit"])
def test_a_kit_is_looked_up_by_its_place(book, name):
    """Of the few connectors of a kit no others are looked at."""
    plan = plan_of(book, QUESTIONS[name])
    assert any("connectors_by_place" in step for step in plan), plan

"""Tracing a notice: ranges, lists, beginnings, years; what cannot be ruled out; all set apart."""

import sqlite3

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stampreader.errors import RefusedStep, UsageError
from stampreader.register import (
    Kind,
    Life,
    Match,
    Wanted,
    check_register,
    list_connectors,
    matches,
    parse_made,
    parse_spans,
    quarantine,
    quarantine_traced,
    release,
    report_found,
    report_lost,
    retire,
    trace,
)

# How notices describe a batch: a range on the spine, a list of date codes, a serial beginning with
# a range (a consumer authority's list of recalls).
HOLDS = {
    "one value": ("24A", ["24A", "24a"], ["24B", "24", "24AA", ""]),
    "a list": ("24A, 24C", ["24A", "24c"], ["24B"]),
    "a range of numbers": ("SN100..SN250", ["SN100", "sn175", "SN250", "SN0150"], ["SN99", "SN251", "SN1000", "SX150", "SN", "SN150A", "150"]),
    "the beginning written once": ("SN100..250", ["SN100", "SN250"], ["SN251"]),
    "bare numbers": ("9..11", ["9", "10", "11", "010"], ["8", "12", "A10", ""]),
    "a range in a date code": ("2024-05..2024-07", ["2024-05", "2024-06", "2024-7"], ["2024-08", "2023-06"]),
    "a range of letters": ("24A..24D", ["24A", "24b", "24D"], ["24E", "24", "24AB", "23C"]),
    "a beginning": ("FX1*", ["FX1", "fx12", "FX1-A"], ["FX2", "F", ""]),
    "several kinds at once": ("7, 20..22, X*", ["7", "21", "X9"], ["8", "23"]),
}  # fmt: skip


@pytest.mark.parametrize(("text", "inside", "outside"), HOLDS.values(), ids=HOLDS)
def test_what_a_notice_names(text, inside, outside):
    """Numbers count as numbers with or without zeros in front, letters in either case."""
    spans = parse_spans(text)
    assert [] == [v for v in inside if not any(span.holds(v) for span in spans)]
    assert [] == [v for v in outside if any(span.holds(v) for span in spans)]


BAD_SPANS = {
    "turned round": "SN250..SN100",
    "letters turned round": "24D..24A",
    "two beginnings": "SN100..SX250",
    "no numbers": "ABC..AB",
    "no end": "SN100..",
    "no start": "..SN100",
    "everything": "*",
}


@pytest.mark.parametrize("text", BAD_SPANS.values(), ids=BAD_SPANS)
def test_a_range_that_is_none_is_refused(text):
    """One line that says how to write it."""
    with pytest.raises(UsageError) as caught:
        parse_spans(text)
    assert caught.value.remedy and "\n" not in caught.value.line()


@pytest.mark.parametrize("text", ["20", "2019..", "2021..2019", "May 2019", "2019-5", ""])
def test_a_year_that_is_none_is_refused(text):
    """Years have four digits, the earlier first."""
    with pytest.raises(UsageError):
        parse_made(text)


MADE = {
    ("2019", "2019"): Match.CERTAIN,
    ("2019-05-03", "2019"): Match.CERTAIN,
    ("2019-05", "2019-05"): Match.CERTAIN,
    ("2019-05-31", "2019-05"): Match.CERTAIN,
    ("2019", "2019-05"): Match.DOUBTFUL,
    ("", "2019"): Match.DOUBTFUL,
    ("2020", "2019-05"): Match.NOT,
    ("2018-12-31", "2019"): Match.NOT,
    ("2020-01-01", "2019..2020"): Match.CERTAIN,
    ("2019-06", "2019-05..2019-07"): Match.CERTAIN,
    ("2019-08", "2019-05..2019-07"): Match.NOT,
}


@pytest.mark.parametrize(("case", "expected"), MADE.items(), ids=lambda v: str(v))
def test_years_and_months(shelf, case, expected):
    """A year that holds the wanted month cannot be ruled out."""
    made_on, asked = case
    connector = shelf.enter("C-1", made_on=made_on)
    assert expected is matches(connector, Wanted(made=parse_made(asked)))


@pytest.fixture
def stock(shelf):
    """Two makers, batches recorded or not, in several places."""
    shelf.enter("C-1", in_service="2025-01-01", place="Kit 1", maker="Felsnase", batch="24A")
    shelf.enter("C-2", in_service="2025-01-01", place="Kit 2", maker="FELSNASE", batch="24a")
    shelf.enter("C-3", in_service="2025-01-01", place="Kit 1", maker="Felsnase", batch="24B")
    shelf.enter("C-4", in_service="2025-01-01", place="Store", maker="Felsnase")
    shelf.enter("C-5", in_service="2025-01-01", place="Store", batch="24A")
    shelf.enter("C-6", maker="Steilhang", batch="24A")
    return shelf


NOTICE = Wanted(maker="Felsnase", batches=parse_spans("24A"))


def ids(connectors):
    """Their ids."""
    return [c.id for c in connectors]


def test_a_batch_is_found_with_what_cannot_be_ruled_out(stock):
    """Those of the batch, and those whose batch or maker was never recorded, told apart."""
    traced = trace(stock.book, NOTICE)
    assert (["C-1", "C-2"], ["C-4", "C-5"]) == (ids(traced.certain), ids(traced.doubtful))
    assert not traced.more


def test_the_doubtful_are_cut_off_not_the_certain(stock):
    """A long list of doubtful ones is cut and says so."""
    traced = trace(stock.book, NOTICE, most_doubtful=1)
    assert (2, 1, True) == (len(traced.certain), len(traced.doubtful), traced.more)


def test_nothing_named_finds_nothing(stock):
    """A trace without a word would be the whole register; it is refused."""
    with pytest.raises(UsageError, match="nothing is named"):
        trace(stock.book, Wanted())


def test_all_are_set_apart_with_the_reference(stock):
    """One call quarantines all of them; each carries the notice, and where it is stays known."""
    stopped = quarantine_traced(
        stock.book, NOTICE, "N-17", reason="hairline cracks", doubtful=True, **stock.told()
    )
    assert ["C-1", "C-2", "C-4", "C-5"] == sorted(ids(stopped.quarantined))
    for id in ("C-1", "C-2", "C-4", "C-5"):
        assert Life.QUARANTINED is stock.get(id).life
        last = stock.book.history(stock.get(id).uid)[-1]
        assert ("N-17", "hairline cracks") == (last.body["reference"], last.body["reason"])
    assert "Kit 1" == stock.get("C-1").place
    assert [Life.IN_SERVICE, Life.REGISTERED] == [stock.get(id).life for id in ("C-3", "C-6")]
    assert [] == list(check_register(stock.book))


def test_the_same_notice_again_changes_nothing(stock):
    """A second run records nothing for those set apart already, unless they were released."""
    quarantine_traced(stock.book, NOTICE, "N-17", doubtful=False, **stock.told())
    before = stock.events()
    again = quarantine_traced(stock.book, NOTICE, "N-17", doubtful=False, **stock.told())
    assert ((), 2, before) == (again.quarantined, len(again.before), stock.events())
    release(stock.book, [stock.get("C-1")], "x", competent_person="Bea", **stock.told())
    third = quarantine_traced(stock.book, NOTICE, "N-17", doubtful=False, **stock.told())
    assert ["C-1"] == ids(third.quarantined)


def test_nobody_decides_about_the_doubtful_by_silence(stock):
    """If some cannot be ruled out, the person says whether they are set apart too."""
    before = stock.events()
    with pytest.raises(UsageError, match="2 more cannot be ruled out"):
        quarantine_traced(stock.book, NOTICE, "N-17", **stock.told())
    assert before == stock.events()
    quarantine_traced(stock.book, NOTICE, "N-17", doubtful=False, **stock.told())
    assert Life.IN_SERVICE is stock.get("C-4").life


def test_one_quarantined_before_gets_the_reference_too(stock):
    """A connector apart for another reason carries the notice as well."""
    quarantine(stock.book, [stock.get("C-1")], "gate sticks", **stock.told())
    stopped = quarantine_traced(stock.book, NOTICE, "N-17", doubtful=False, **stock.told())
    assert "C-1" in ids(stopped.quarantined)
    assert "notice N-17" == stock.get("C-1").life_reason


def test_lost_and_retired_ones_are_told(stock):
    """A lost one cannot be set apart: the notice waits in its note for the day it is found."""
    report_lost(stock.book, [stock.get("C-1")], **stock.told())
    retire(stock.book, [stock.get("C-2")], "worn", **stock.told())
    stopped = quarantine_traced(stock.book, NOTICE, "N-17", doubtful=False, **stock.told())
    assert ([], ["C-1"], ["C-2"]) == (
        ids(stopped.quarantined), ids(stopped.lost), ids(stopped.retired),
    )  # fmt: skip
    assert "notice N-17" == stock.get("C-1").note
    before = stock.events()
    quarantine_traced(stock.book, NOTICE, "N-17", doubtful=False, **stock.told())
    assert before == stock.events()
    report_found(stock.book, [stock.get("C-1")], **stock.told())
    assert Life.QUARANTINED is stock.get("C-1").life


def test_all_or_nothing(stock, monkeypatch):
    """If the disk fails at the third of four, none of them is set apart."""
    record = type(stock.book).record
    left = iter(range(2))

    def failing(self, kind, *args, **more):
        if kind is Kind.QUARANTINED and next(left, None) is None:
            raise sqlite3.OperationalError("disk I/O error")
        return record(self, kind, *args, **more)

    monkeypatch.setattr(type(stock.book), "record", failing)
    before = stock.events()
    with pytest.raises(Exception, match="disk I/O error"):
        quarantine_traced(stock.book, NOTICE, "N-17", doubtful=True, **stock.told())
    monkeypatch.undo()
    assert before == stock.events()
    assert Life.IN_SERVICE is stock.get("C-1").life


def test_a_quarantine_is_not_dated_in_the_future(stock):
    """The notice may be old, the quarantine not of tomorrow."""
    with pytest.raises(RefusedStep, match="future"):
        quarantine_traced(stock.book, NOTICE, "N-17", doubtful=True, **stock.told("2025-06-02"))


TEXTS = st.sampled_from(["", "A", "B1", "B2", "B10", "b2", "b02", "C9", "C10", "C011"])
FIELDS = st.fixed_dictionaries(
    {
        "maker": st.sampled_from(["", "M", "m", "N"]),
        "batch": TEXTS,
        "serial": TEXTS,
        "made_on": st.sampled_from(["", "2019", "2019-05", "2019-05-02", "2020"]),
    }
)
WANTED = st.builds(
    Wanted,
    maker=st.sampled_from(["", "M"]),
    batches=st.sampled_from(["", "B2", "B1..B9", "B*", "B2,C9..C11"]).map(parse_spans),
    serials=st.sampled_from(["", "C9..10", "A", "b*"]).map(parse_spans),
    made=st.sampled_from([None, ("2019", "2019"), ("2019-05", "2019-05"), ("2019", "2020")]),
).filter(lambda wanted: not wanted.is_empty)


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(stock=st.lists(FIELDS, max_size=10), wanted=WANTED)
def test_the_index_finds_what_going_through_all_finds(fresh, stock, wanted):
    """The question to the register misses no connector that the rule would find, nor adds one."""
    with fresh() as shelf:
        for number, fields in enumerate(stock):
            shelf.enter(f"C-{number}", **fields)
        traced = trace(shelf.book, wanted)
        everything = list_connectors(shelf.book)
        for match, found in ((Match.CERTAIN, traced.certain), (Match.DOUBTFUL, traced.doubtful)):
            assert {c.id for c in everything if matches(c, wanted) is match} == set(ids(found))

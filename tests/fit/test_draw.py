"""Drawing a kit: as many as can be served, none twice; checked against SciPy's matching."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import maximum_bipartite_matching

from stampreader.fit import Need, draw


def test_the_order_of_the_offers_is_followed():
    """The best of the offers go first where nothing speaks against it."""
    drawn = draw([Need("a", 2)], {"a": ["C-3", "C-1", "C-2"]})
    assert ({"a": ("C-3", "C-1")}, {}) == (drawn.chosen, drawn.missing)


def test_one_that_does_for_both_goes_where_it_is_needed():
    """The only pear is kept for the belay, though it would do for life support as well."""
    drawn = draw(
        [Need("life-support", 2), Need("belay", 1)],
        {"life-support": ["PEAR", "D-1", "D-2"], "belay": ["PEAR"]},
    )
    assert {"life-support": ("D-1", "D-2"), "belay": ("PEAR",)} == drawn.chosen


def test_a_long_chain_is_passed_on():
    """Three uses hand connectors on to each other so that the last is served."""
    offers = {"a": ["1", "2"], "b": ["2", "3"], "c": ["1"]}
    drawn = draw([Need("a", 1), Need("b", 1), Need("c", 1)], offers)
    assert {"a": ("2",), "b": ("3",), "c": ("1",)} == drawn.chosen


def test_what_is_missing_is_counted():
    """Uses that go short say by how many."""
    drawn = draw([Need("a", 3), Need("b", 1)], {"a": ["1"], "b": []})
    assert ({"a": ("1",), "b": ()}, {"a": 2, "b": 1}) == (drawn.chosen, drawn.missing)


OFFERS = st.lists(
    st.tuples(st.integers(1, 3), st.lists(st.integers(0, 7), unique=True, max_size=6)),
    min_size=1,
    max_size=4,
)


@given(OFFERS)
def test_as_many_are_served_as_can_be(uses):
    """The number served is that of SciPy's maximum bipartite matching, and none is used twice."""
    needs = [Need(str(n), count) for n, (count, _) in enumerate(uses)]
    offers = {str(n): [str(id) for id in ids] for n, (_, ids) in enumerate(uses)}
    drawn = draw(needs, offers)
    chosen = [id for ids in drawn.chosen.values() for id in ids]
    assert len(chosen) == len(set(chosen))
    assert all(set(drawn.chosen[use]) <= set(ids) for use, ids in offers.items())
    rows = [ids for count, ids in uses for _ in range(count)]
    graph = np.array([[int(id in ids) for id in range(8)] for ids in rows])
    most = int((maximum_bipartite_matching(csr_matrix(graph), "column") >= 0).sum())
    assert most == len(chosen)
    assert sum(n.count for n in needs) - most == sum(drawn.missing.values())

"""The check list of an inspection, and which of its points a connector has."""

import pytest

from stampreader.errors import UsageError
from stampreader.fit import POINTS, find_point, not_applicable

ASKED = {
    "body": {"cracks", "shape", "grooves", "corrosion", "edges"},
    "gate": {"opens", "closes", "aligned", "rivet", "spring"},
    "lock": {"sleeve", "threads", "locks"},
    "marks": {"marks", "same"},
    "history": {"history"},
}
"""What a competent person checks, by area: the list of the issue."""


def test_every_point_of_the_list_is_there():
    """Nothing of the list is missing, and every point has words of its own."""
    found = {area: {p.key for p in POINTS if p.area == area} for area in ASKED}
    assert ASKED == found
    assert len(POINTS) == len({p.text for p in POINTS}) == len({p.key for p in POINTS})


WITHOUT = {
    "wire gate": ("D", "wire gate", {"sleeve", "threads", "locks"}),
    "screw gate": ("pear", "screw gate", {"locks"}),
    "self-locking": ("pear", "twist lock", {"threads"}),
    "quick link": ("quick link", "", {"closes", "rivet", "spring", "locks"}),
    "gate not recorded": ("", "", set()),
    "words nobody knows": ("odd", "odd", set()),
}


@pytest.mark.parametrize(("shape", "gate", "keys"), WITHOUT.values(), ids=WITHOUT)
def test_points_that_do_not_apply(shape, gate, keys):
    """What a connector does not have is not asked; where that is not recorded all is."""
    assert keys == not_applicable(shape, gate)


def test_points_are_found_by_key():
    """In either case; an unknown one names those there are."""
    assert "gate: rivet" == find_point(" Rivet").text
    with pytest.raises(UsageError, match="no point 'paint'") as caught:
        find_point("paint")
    assert "cracks" in caught.value.line()

from __future__ import annotations

from laying import SIZE, lay

from stampreader.figures import find_stamps
from stampreader.marks import find_spans


def test_a_stamp_torn_in_two_is_told_and_no_part_of_it_is_trusted() -> None:
    """Where nothing was seen in the middle, its ends still lie in one line."""
    ends = [*lay("{C}27kN", x=1000), *lay("{O}7kN", x=1450)]
    apart = [*lay("{C}27kN", x=1000), *lay("{O}7kN", x=1450, y=1900)]
    assert [True, True] == [draft.crowd for draft in find_stamps(ends, SIZE, find_spans)]
    assert [False, False] == [draft.crowd for draft in find_stamps(apart, SIZE, find_spans)]

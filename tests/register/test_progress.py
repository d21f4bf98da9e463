"""How far deliveries have come, and noticing changes."""

from stampreader.register import (
    change_count,
    confirm_arrivals,
    deliveries_in_progress,
    open_register,
    progress_of,
    set_aside,
)


def test_waiting_and_decided_are_counted(register, arrive, clock):
    """Confirmed and set aside count as decided; a delivery that is done is not in progress."""
    first = arrive(register, 4)
    arrive(register, 1, delivery="Autumn", first=9)
    confirm_arrivals(register, [(first[0], {"closed_kN": "27"})], who="Ada", at=clock())
    set_aside(register, first[1:2], reason="", who="Ada", at=clock())
    told = [(p.delivery, p.waiting, p.decided) for p in deliveries_in_progress(register)]
    assert [("Spring", 2, 2), ("Autumn", 1, 0)] == told
    confirm_arrivals(register, [(a, {}) for a in first[2:]], who="Ada", at=clock())
    assert ["Autumn"] == [p.delivery for p in deliveries_in_progress(register)]
    assert (0, 4) == (
        progress_of(register, "Spring").waiting,
        progress_of(register, "Spring").decided,
    )
    assert (0, 0) == (progress_of(register, "none").waiting, progress_of(register, "none").decided)


def test_a_change_by_anybody_is_noticed(register, arrive):
    """The count differs after a change of one's own and after one of another process."""
    counts = [change_count(register)]
    arrive(register, 1)
    counts.append(change_count(register))
    assert counts[-1] == change_count(register)
    with open_register(register.path) as other:
        arrive(other, 1, first=5)
    counts.append(change_count(register))
    assert 3 == len(set(counts))

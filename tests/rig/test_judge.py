"""Margins, warnings, mishaps, kits and variation."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest

from stampreader.errors import PlanError, UsageError
from stampreader.rig import (
    Known,
    OpenPlace,
    Outcome,
    Plan,
    Source,
    What,
    Worked,
    explain,
    fill,
    kit_list,
    open_places,
    plan_of,
    vary,
    what_if,
    work_out,
)

Read = Callable[..., Plan]
Work = Callable[..., Worked]
Text = Callable[..., str]

ANCHOR = """
ratio = 10
[point.left]
kind = "anchor"
at = [-1, 1]
held_by = [{ id = "C-1" }]
[point.right]
kind = "anchor"
at = [1, 1]
held_by = [{ id = "C-2", loaded = "cross" }]
[point.master]
at = [0, 0]
meet = "ring"
held_by = [{ name = "ring", strength = "40 kN" }, { wanted = "master point" }]
[point.load]
kind = "load"
at = [0, -2]
force = "2 kN"
[anchor.main]
joins = "master"
legs = ["left", { to = "right", strength = "22 kN" }]
[rope.hang]
path = ["master", "load"]
strength = "30 kN"
"""
BOOK = {
    "C-1": Known(
        "C-1", "Pear", Decimal(24), Decimal(8), Decimal(7), barred="quarantined, not to be used"
    ),
    "C-2": Known(
        "C-2",
        "Oval",
        Decimal(25),
        None,
        Decimal(7),
        remarks=("registered, not yet put in service",),
    ),
}


@pytest.fixture
def anchor(worked: Work) -> Worked:
    """An anchor with two registered connectors and an open place."""
    return worked(ANCHOR, lookup=BOOK.get)


def test_rows_come_weakest_first(anchor: Worked) -> None:
    """Pieces without a figure come first, then the lowest margin."""
    assert ["right", "master", "rope hang", "leg to right", "left", "master"] == [
        r.place for r in anchor.rows
    ]
    assert [Outcome.UNKNOWN, Outcome.UNKNOWN] == [row.outcome for row in anchor.rows[:2]]
    assert Decimal("15.00") == anchor.weakest.margin


def test_a_missing_figure_counts_as_not_allowed(anchor: Worked) -> None:
    """A connector without a figure for the direction it is loaded in gives no margin."""
    row = next(row for row in anchor.rows if row.place == "right")
    assert row.margin is None
    assert not row.outcome.allowed
    assert any("has no figure for 'cross'" in text for text in anchor.warnings)


def test_what_the_register_bars_is_not_to_be_used(anchor: Worked) -> None:
    """A quarantined connector is barred whatever its margin, and the warning says so."""
    row = next(row for row in anchor.rows if row.place == "left")
    assert row.margin > 10
    assert Outcome.BARRED is row.outcome
    assert "C-1 Pear at left is quarantined, not to be used in the register" in anchor.warnings
    assert any("not yet put in service" in text for text in anchor.warnings)


def test_the_system_is_as_good_as_its_worst_piece(worked: Work, v_text: Text) -> None:
    """The verdict on the system is the worst among its pieces."""
    held = "held_by = [{ figures = '%s' }]\n"
    text = v_text(90, force="2 kN").replace("kind = 'anchor'\n", "kind = 'anchor'\n" + held)
    assert Outcome.KEEPS is worked(text % ("24/8/7", "24/8/7")).outcome
    assert Outcome.UNDER_RATIO is worked(text % ("24/8/7", "12/8/7")).outcome
    assert Outcome.UNDER_ONE is worked(text % ("1/8/7", "12/8/7")).outcome
    assert Outcome.UNKNOWN is worked(text % ("-/8/7", "24/8/7")).outcome
    assert Outcome.UNKNOWN is worked(v_text(90)).outcome, "nothing named is nothing known"


def test_wide_angle_is_warned_of(worked: Work, v_text: Text) -> None:
    """Over 120° between the legs a warning names the angle and its convention."""
    assert () == worked(v_text(120)).warnings
    assert any("121° apart (included angle)" in text for text in worked(v_text(121)).warnings)


@pytest.mark.parametrize(
    ("meet", "warned"), [("connector", True), ("ring", False), ("knot", False)]
)
def test_three_way_pull(meet: str, warned: bool, worked: Work) -> None:
    """Legs and load that meet in a connector pull it three ways, which no standard rates."""
    text = ANCHOR.replace('meet = "ring"', f'meet = "{meet}"').replace(
        '{ name = "ring", strength = "40 kN" }', '{ figures = "27/8/7" }'
    )
    found = any("pulled 3 ways" in text for text in worked(text, lookup=BOOK.get).warnings)
    assert warned is found


def test_gate_towards_an_edge(worked: Work) -> None:
    """A gate that lies towards an edge is warned of."""
    text = ANCHOR.replace('id = "C-1"', 'figures = "24/8/7", gate_towards_edge = true')
    assert any("lies towards an edge" in t for t in worked(text, lookup=BOOK.get).warnings)


def test_lowered_strength_is_printed_with_its_reason(worked: Work) -> None:
    """A strength the plan lowers is counted lower and the reason printed."""
    text = ANCHOR.replace(
        'strength = "30 kN"', 'strength = "30 kN"\nkeeps = 0.6\nwhy = "knot, team setting"'
    )
    found = worked(text, lookup=BOOK.get)
    assert Decimal("9.00") == next(r.margin for r in found.rows if r.place == "rope hang")
    assert "rope at rope hang keeps 0.6: knot, team setting" in found.assumptions


def test_what_if(worked: Work, v_text: Text) -> None:
    """Each connector crosswise and open, and each leg gone, with the weakest piece that leaves."""
    held = "kind = 'anchor'\nheld_by = [{ figures = '27/8/-' }]\n"
    found = what_if(worked(v_text(60, force="2 kN").replace("kind = 'anchor'\n", held)))
    assert 2 == len(found.connectors)
    line = found.connectors[0]
    assert Decimal("23.38") == line.planned.margin  # 27 / (2 · 0.57735)
    assert Decimal("6.92") == line.cross.row.margin  # 8 / (2 · 0.57735)
    assert Outcome.UNKNOWN is line.open.outcome
    assert [What.LEG, What.LEG] == [mishap.what for mishap in found.legs]
    assert Decimal("13.50") == found.legs[0].row.margin  # the other takes all: 27 / 2
    assert "leg1" == found.legs[0].row.place
    assert 2 == len(found.leading_to(Outcome.UNDER_RATIO))
    assert 2 == len(found.leading_to(Outcome.UNKNOWN))
    assert () == found.leading_to(Outcome.UNDER_ONE)


def test_the_only_leg_gone_leaves_nothing(worked: Work) -> None:
    """An anchor of one leg that goes holds nothing any more."""
    text = """
[point.bolt]
kind = "anchor"
at = [0, 1]
held_by = [{ figures = "24/8/7" }]
[point.load]
kind = "load"
at = [0, 0]
force = "1 kN"
[anchor.a]
joins = "load"
legs = ["bolt"]
"""
    (gone,) = what_if(worked(text)).legs
    assert gone.row is None
    assert Outcome.UNDER_ONE is gone.outcome


def test_kit_list(anchor: Worked) -> None:
    """The kit counts equal pieces once and names connectors by id and place."""
    kit = {line.name: (line.count, line.id, line.places) for line in kit_list(anchor)}
    assert (1, "C-1", ("left",)) == kit["C-1 Pear"]
    assert (1, None, ("master",)) == kit["ring"]
    text = ANCHOR.replace('id = "C-1"', 'figures = "24/8/7"').replace(
        'id = "C-2", loaded = "cross"', 'figures = "24/8/7"'
    )
    kit = {
        line.name: line.count
        for line in kit_list(work_out(plan_of(Source(text, "p"), None, None, None)))
    }
    assert 2 == kit["connector"]


def test_open_places_say_what_they_need(anchor: Worked) -> None:
    """An open place tells its force, direction and the least figure that keeps the ratio."""
    (place,) = open_places(anchor)
    assert ("master", "master point", "closed") == (place.place, place.use, place.slot)
    assert Decimal("20.00") == place.needs_kN
    assert any("open place" in text for text in anchor.warnings)


def known(id: str, closed: int, **more: object) -> Known:
    """A connector of the register."""
    return Known(id, closed=Decimal(closed), **more)  # type: ignore[arg-type]


def test_filling_open_places(anchor: Worked) -> None:
    """A connector that keeps the ratio and is not barred is chosen, in the order offered."""
    offered = [
        known("C-1", 40),
        known("C-7", 19),
        known("C-8", 40, barred="lost"),
        known("C-9", 20),
        known("C-5", 40),
    ]
    asked: list[OpenPlace] = []

    def offers(place: OpenPlace) -> list[Known]:
        asked.append(place)
        return offered

    filled = fill(anchor, offers)
    assert ["master"] == [place.place for place in asked]
    assert [("master", "C-9")] == [(place.place, found.id) for place, found in filled.chosen]
    again = work_out(filled.plan)
    assert Decimal("10.00") == next(r.margin for r in again.rows if r.hold.id == "C-9")
    assert not open_places(again)


def test_an_open_place_that_cannot_be_filled_says_why(anchor: Worked) -> None:
    """Where nothing qualifies the place stays open, with what it needs."""
    filled = fill(anchor, lambda _: [known("C-7", 19)])
    assert () == filled.chosen
    ((place, why),) = filled.empty
    assert "master" == place.place
    assert "closed 20.00 kN or more" in why


def test_as_many_places_as_possible_are_filled(worked: Work) -> None:
    """A connector moves to another place where that lets one more place be filled."""
    text = ANCHOR.replace('{ id = "C-1" }', '{ wanted = "leg" }').replace(
        '{ id = "C-2", loaded = "cross" }', '{ wanted = "leg" }'
    )
    found = worked(text)
    strong, weak, weaker = known("S", 40), known("W", 15), known("V", 14.2)
    filled = fill(found, lambda place: [strong, weak, weaker] if place.use == "leg" else [strong])
    assert {"master": "S", "left": "W", "right": "V"} == {
        p.place: k.id for p, k in filled.chosen
    } or {"master": "S", "left": "V", "right": "W"} == {p.place: k.id for p, k in filled.chosen}
    assert () == filled.empty


def _vary(text: str, range_: str):
    return vary(Source(text, "p.toml"), range_, lambda source: plan_of(source, None, None, None))


def test_vary_the_angle(v_text: Text) -> None:
    """Varying the included angle shows where the margin crosses the ratio: 11/cos⁻¹ by hand."""
    text = v_text(60, force="2 kN", more="").replace(
        "kind = 'anchor'\n", "kind = 'anchor'\nheld_by = [{ figures = '22/8/7' }]\n"
    )
    varied = _vary(text, "angle=30..180:10")
    assert ("°", "included") == (varied.unit, varied.convention)
    assert 16 == len(varied.steps)
    assert "180°" in varied.steps[-1].refused
    (crossing,) = varied.crossings
    # 22 / (2 / (2 cos(a/2))) = 10 where cos(a/2) = 10/22
    assert Decimal("125.92") == crossing.value
    assert crossing.keeps_below


def test_vary_a_load_keeps_its_unit(v_text: Text) -> None:
    """A force is varied in the unit it is written in."""
    text = v_text(60, force="200 kg").replace(
        "kind = 'anchor'\n", "kind = 'anchor'\nheld_by = [{ figures = '22/8/7' }]\n"
    )
    varied = _vary(text, "load.force=100..500:100")
    assert "kg" == varied.unit
    assert [100, 200, 300, 400, 500] == [step.value for step in varied.steps]
    first, last = (
        step.worked.forces.legs["main", "leg0"] for step in (varied.steps[0], varied.steps[-1])
    )
    assert 5 == pytest.approx(last / first)


@pytest.mark.parametrize(
    ("range_", "what"),
    [
        ("angle", "not a range"),
        ("angle=30", "not a range"),
        ("angle=150..30", "smaller to a larger"),
        ("angle=0..180:0.1", "over 200 steps"),
        ("angle=0..1..2", "not a range"),
        ("angel=1..2", "no number"),
        ("at.0=1..2", "several"),
        ("angle=1..2:0", "smaller to a larger"),
    ],
)
def test_ranges_that_are_not_understood(range_: str, what: str) -> None:
    """A range or name that fits nothing, or several numbers, is refused and the names listed."""
    with pytest.raises(UsageError, match=what) as caught:
        _vary(
            ANCHOR.replace('{ id = "C-1" }', "").replace('{ id = "C-2", loaded = "cross" }', ""),
            range_,
        )
    assert caught.value.remedy


def test_vary_where_nothing_is_sound(v_text: Text) -> None:
    """A range in which no value gives a plan that can be solved ends in the first reason."""
    with pytest.raises(PlanError, match="180° included"):
        _vary(v_text(60), "angle=179.995..180")


def test_working_is_shown_with_what_is_left_over(worked: Work, v_text: Text) -> None:
    """The working names the angle's convention, the share, and the balance at each point."""
    lines = explain(worked(v_text(60)))
    text = "\n".join(lines)
    assert "60° included, between the legs" in text
    assert "0.5774 of the pull" in text
    left = [
        float(line.split(": ")[1].split()[0]) for line in lines if line.startswith("left over at")
    ]
    assert len(left) == 1
    assert left[0] < 1e-9

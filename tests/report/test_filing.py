"""From a real register to reports: what the history holds is what the page says."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from stampreader.register import (
    Crop,
    Filter,
    Kind,
    add_arrival,
    add_by_hand,
    confirm_arrivals,
    correct_entry,
    find_connector,
    keep_order,
    keep_reading,
    list_connectors,
    list_due,
    open_register,
    set_aside,
    set_interval,
    waiting,
)
from stampreader.report.filing import (
    card_of,
    due_line,
    inspection_day,
    list_line,
    state_of,
    told,
)
from stampreader.words import Figure, Mark, Reading, Sighting, Stamp, State

NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)
READERS = "net 1; tesseract 5"


def _figure(value):
    return Figure(Decimal(value), State.SURE, 0.98)


def _arrive(register, picture, number, closed="27"):
    sha = f"{number:064x}"
    stamp = Stamp(
        _figure(closed), _figure("8"), _figure("7"), (Mark("CE 9123"), Mark("EN 362:2004/B")),
        serial=f"FN{number}",
    )  # fmt: skip
    reading = Reading(
        f"in/IMG_{number}.jpg", sha, (640, 480), (stamp,), readers=("net 1", "tesseract 5"),
        taken_on="2026-02-28T09:12:00",
    )  # fmt: skip
    crop = Crop(sha, 0, "image/png", picture + bytes([number]))
    keep_reading(register, reading, [crop], at=NOW)
    seen = Sighting(sha, 0, stamp, READERS, crop.sha256, f"in/IMG_{number}.jpg")
    add_arrival(register, "Spring", [seen], at=NOW)


@pytest.fixture
def shelf(tmp_path, evidence_png):
    """A delivery of four: two confirmed, the second with another figure, one waiting, one aside."""
    with open_register(tmp_path / "register.sqlite", create=True) as register:
        for number, closed in enumerate(("27", "22", "27", "27"), 1):
            _arrive(register, evidence_png, number, closed)
        line = {"count": 4, "maker": "Felsnase", "model": "Oval", "figures": "27/8/7", "marks": []}
        keep_order(register, "Spring", [line], who="A. Berg", at=NOW)
        first, second, _, last = waiting(register)
        for arrival in (first, second):
            fields = {
                "closed_kN": str(arrival.seen[0].stamp.closed.kN), "cross_kN": "8", "open_kN": "7",
                "marks": ["CE 9123", "EN 362:2004/B"], "maker": "Felsnase", "model": "Oval",
                "gate": "screw sleeve", "made_on": "2025-06",
            }  # fmt: skip
            confirm_arrivals(register, [(arrival, fields)], who="A. Berg", at=NOW)
        set_aside(register, [last], reason="the same twice", who="A. Berg", at=NOW)
        yield register


def _record(register, id, kind, day="2026-03-02", **body):
    uid = find_connector(register, id).uid
    at = NOW + timedelta(days=60)
    return register.record(kind, uid, body, who="L. Okafor", at=at, happened_on=day)


def test_card_tells_where_each_figure_comes_from(shelf):
    """A figure read and confirmed, one corrected, one typed without a photo: each says so."""
    correct_entry(
        shelf, find_connector(shelf, "C-0002"), {"closed_kN": "27"}, why="misread",
        who="L. Okafor", at=NOW,
    )  # fmt: skip
    add_by_hand(shelf, {"closed_kN": "25"}, who="M. Grau", at=NOW)
    cards = [card_of(shelf, find_connector(shelf, f"C-000{number}")) for number in (1, 2, 3)]
    said = [card.figures[0].origin for card in cards]
    assert "Read as 27 (sure); confirmed by A. Berg on 2026-03-01." == said[0]
    assert "Corrected by L. Okafor on 2026-03-01." == said[1]
    assert "Entered by hand by M. Grau on 2026-03-01, without a photo." == said[2]
    assert "Entered by hand, without a photo of its stamp." in cards[2].warnings
    assert "" == cards[2].figures[1].origin
    assert cards[2].figures[1].kN is None


def test_card_holds_the_evidence(shelf, evidence_png):
    """The crop, the photo's name and content, when it was taken, what was read and by whom."""
    (evidence,) = card_of(shelf, find_connector(shelf, "C-0001")).evidence
    assert evidence_png == evidence.picture[: len(evidence_png)]
    assert ("IMG_1.jpg", f"{1:064x}") == (evidence.photo, evidence.sha256)
    assert "2026-02-28 09:12:00" == evidence.taken_on
    assert READERS == evidence.reader
    assert evidence.figures.startswith("27 kN closed (sure), 8 kN cross (sure), 7 kN open (sure)")
    assert evidence.figures.endswith("CE 9123, EN 362:2004/B")


def test_card_history_is_newest_first_and_complete(shelf):
    """Every event of the connector stands on the card, the latest on top."""
    _record(shelf, "C-0001", Kind.PUT_IN_SERVICE, place="Vehicle 2")
    _record(
        shelf, "C-0001", Kind.INSPECTED, result="pass", note="clean", measured={"groove": "0.3 mm"}
    )
    card = card_of(shelf, find_connector(shelf, "C-0001"))
    assert ["inspected", "put in service", "registered"] == [line.what for line in card.history]
    assert "Vehicle 2" == card.history[1].detail
    assert "1 photo(s)" == card.history[2].detail
    (inspection,) = card.inspections
    assert ("pass", "groove 0.3 mm; clean") == (inspection.result, inspection.findings)
    assert date(2026, 3, 2) == card.in_service_on


def test_standards_speak_on_the_card(shelf):
    """22 kN on a class H connector is enough, 15 kN is not: EN 12275:2013 table, class H 20 kN."""
    marks = ["EN 12275:2013/H"]
    for id, closed in (("A-1", "22"), ("A-2", "15")):
        fields = {"id": id, "closed_kN": closed, "cross_kN": "8", "open_kN": "7", "marks": marks}
        add_by_hand(shelf, fields, who="M. Grau", at=NOW)
    good, bad = (card_of(shelf, find_connector(shelf, id)) for id in ("A-1", "A-2"))
    assert not any("demands at least 20" in text for text in good.findings)
    assert any("demands at least 20" in text for text in bad.findings)


def test_margins_of_a_stopped_connector_never_read_allowed(shelf):
    """Under 2 kN at 10:1 27 kN is allowed, but a quarantined connector is not to be used."""
    card = card_of(shelf, find_connector(shelf, "C-0001"), load_kN=Decimal(2), ratio=Decimal(10))
    assert ["allowed", "not allowed", "not allowed"] == [line.verdict for line in card.margins]
    _record(shelf, "C-0001", Kind.QUARANTINED, reason="dropped from 8 m")
    card = card_of(shelf, find_connector(shelf, "C-0001"), load_kN=Decimal(2), ratio=Decimal(10))
    assert {"quarantined, not to be used"} == {line.verdict for line in card.margins}
    assert "Quarantined, not to be used: dropped from 8 m." == card.warnings[0]


def test_load_on_the_card_is_rounded_up(shelf):
    """A load of 2.001 kN shows as 2.01: loads round to the safe side."""
    card = card_of(
        shelf, find_connector(shelf, "C-0001"), load_kN=Decimal("2.001"), ratio=Decimal(10)
    )
    assert Decimal("2.01") == card.margins[0].load_kN


def test_due_lines_follow_the_kits_interval(shelf):
    """A kit with an interval of 6 months is due earlier; retired connectors are never due."""
    _record(shelf, "C-0001", Kind.PUT_IN_SERVICE, place="Kit 6")
    add_by_hand(shelf, {}, who="M. Grau", at=NOW)
    _record(shelf, "C-0003", Kind.RETIRED, reason="worn")
    set_interval(shelf, "Kit 6", 6, who="M. Grau", at=NOW)
    found = list_due(shelf, today=date(2026, 9, 1), within_days=400)
    lines = {line.id: line for line in map(due_line, found)}
    assert {"C-0001", "C-0002"} == set(lines)
    assert date(2026, 9, 2) == lines["C-0001"].due_on
    assert date(2027, 3, 1) == lines["C-0002"].due_on
    assert ("registered", None) == (lines["C-0002"].state, lines["C-0002"].last_on)


def test_list_line_is_the_connector(shelf):
    """Figures, marks, state in plain words."""
    line = list_line(find_connector(shelf, "C-0002"), date(2027, 3, 1))
    assert ("C-0002", "Felsnase Oval", Decimal(22), "registered") == (
        line.id, line.name, line.closed_kN, line.state,
    )  # fmt: skip


def test_inspection_day_holds_that_day_only(shelf):
    """Faults with their notes, remarks and measurements, of the day asked for."""
    points = [
        {"point": "body", "result": "fail", "note": "crack at the rivet"},
        {"point": "gate", "result": "pass", "note": "stiff"},
        {"point": "lock", "result": "not applicable"},
    ]
    _record(shelf, "C-0001", Kind.INSPECTED, result="fail", points=points)
    _record(shelf, "C-0002", Kind.INSPECTED, day="2026-03-03", result="pass")
    report = inspection_day(shelf, date(2026, 3, 2))
    (line,) = report.lines
    assert ("C-0001", "fail", "L. Okafor") == (line.id, line.result, line.who)
    assert ("body: crack at the rivet",) == line.failed
    assert ("gate: stiff",) == line.remarks
    assert ("body", "gate", "lock") == report.points
    assert ("quarantined", None) == (line.action, line.next_due)
    assert line.picture is not None


def test_state_names_the_last_entry(tmp_path, shelf):
    """The foot of a page names the last event and its hash, so that a print can be pinned."""
    last = _record(shelf, "C-0001", Kind.MOVED, place="Store")
    assert f"register up to entry {last.id}, {last.hash[:12]}" == state_of(shelf)
    with open_register(tmp_path / "new.sqlite", create=True) as fresh:
        assert "register without entries" == state_of(fresh)


def test_correction_is_told_with_before_and_after(shelf):
    """A correction shows what stood there, what stands there now, and why."""
    event = correct_entry(
        shelf, find_connector(shelf, "C-0002"), {"closed_kN": "27", "marks": []}, why="misread",
        who="L. Okafor", at=NOW,
    )  # fmt: skip
    assert "closed_kN 22 → 27; marks CE 9123, EN 362:2004/B → none (misread)" == told(event)


def test_delivery_brings_together_order_register_and_waiting(shelf):
    """Of four photos: two registered, one of them odd; one waits; one was set aside."""
    from stampreader.cli.reporting import delivery_of

    delivery = delivery_of(shelf, "Spring")
    assert [
        ("C-0001", "confirmed"),
        ("C-0002", "confirmed"),
        ("", "waiting"),
        ("", "set aside"),
    ] == [(line.id, line.decision) for line in delivery.lines]
    assert (3, 1) == (len(delivery.arrived), delivery.waiting)
    assert ("closed: ordered 27, arrived 22",) == delivery.lines[1].differences
    assert () == delivery.lines[0].differences
    assert (4, 3) == (delivery.order[0].ordered, delivery.order[0].arrived)
    assert any(text.startswith("count: ordered 4") for text in delivery.differences)
    assert ("A. Berg", date(2026, 3, 1)) == (delivery.taken_in_by, delivery.taken_in_on)


def test_delivery_flags_what_no_third_party_stands_behind(shelf):
    """A connector with the maker's own claim only is named in the acceptance report."""
    from stampreader.cli.reporting import delivery_of

    assert not any("no third-party mark" in text for text in delivery_of(shelf, "Spring").advice)
    fields = {"id": "B-1", "delivery": "Spring", "marks": ["EN 12275:2013/H"]}
    add_by_hand(shelf, fields, who="M. Grau", at=NOW)
    assert "B-1: no third-party mark." in delivery_of(shelf, "Spring").advice


def test_delivery_nobody_knows_is_refused(shelf):
    """A misspelt delivery is an error, not an empty report to sign."""
    from stampreader.cli.reporting import delivery_of
    from stampreader.errors import UsageError

    assert 2 == len(list_connectors(shelf, Filter(delivery="Spring")))
    with pytest.raises(UsageError, match="no delivery 'Sprig'"):
        delivery_of(shelf, "Sprig")

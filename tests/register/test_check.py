"""Checking: a whole register has no faults, and each way of tampering is named."""

import json
import sqlite3

import pytest

from stampreader.register import Kind, check_register, confirm_arrivals, open_register, waiting


@pytest.fixture
def filled(register, enter, record, arrive, clock):
    """A register with a bit of everything; gives its path, closed."""
    first = enter(register, "C-0001")
    enter(register, "C-0002")
    record(register, Kind.PUT_IN_SERVICE, first, place="Kit 1")
    record(register, Kind.SETTING, None, name="ratio", value="10")
    register.db.conn.execute("INSERT INTO settings VALUES ('ratio', '10')")
    arrive(register, 2)
    confirm_arrivals(register, [(a, {}) for a in waiting(register)], who="Ada", at=clock())
    register.close()
    return register.path


def tampered(path, *statements):
    """Change the file behind the program's back; gives the faults found then."""
    with sqlite3.connect(path) as conn:
        for (name,) in conn.execute(
            "SELECT name FROM sqlite_schema WHERE type = 'trigger'"
        ).fetchall():
            conn.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            conn.execute(statement)
    conn.close()
    with open_register(path) as register:
        return list(check_register(register))


def test_a_whole_register_has_no_faults(filled):
    """Nothing is complained of where nothing is wrong."""
    assert [] == tampered(filled)


TAMPERING = {
    "a figure in the history": (
        ["UPDATE events SET body = replace(body, '\"27\"', '\"45\"') WHERE number = 2"],
        "-2: it was altered after it was recorded",
    ),
    "who did it": (["UPDATE events SET who = 'Eve' WHERE number = 3"], "-3: it was altered"),
    "an event taken out": (["DELETE FROM events WHERE number = 3"], "-3: it is missing"),
    "the last hash": (["UPDATE events SET hash = '00' WHERE number = 1"], "-1: it was altered"),
    "a link": (["UPDATE events SET previous = '00' WHERE number = 2"], "-2: it does not follow"),
    "the present state": (
        ["UPDATE connectors SET closed_kN = '45' WHERE id = 'C-0001'"],
        "the present state kept for C-0001 differs from its history",
    ),
    "the state of life": (
        ["UPDATE connectors SET life = 'in-service' WHERE id = 'C-0002'"],
        "C-0002 differs from its history",
    ),
    "a connector out of nothing": (
        [
            "UPDATE connectors SET uid = 'zzzz-1' WHERE id = 'C-0002'",
        ],
        "the present state kept for zzzz-1 has no history",
    ),
    "a mark for searching": (
        ["INSERT INTO connector_marks SELECT 'NFPA 2500 G', uid FROM connectors LIMIT 1"],
        "differs from its history",
    ),
    "an evidence picture": (["UPDATE crops SET picture = x'00'"], "was altered"),
    "evidence taken away": (
        ["UPDATE arrival_photos SET crop = NULL", "DELETE FROM crops"],
        "is missing",
    ),
    "a setting": (["UPDATE settings SET value = '2'"], "the setting ratio differs"),
    "an arrival": (
        ["UPDATE arrivals SET connector = 'zzzz-9' WHERE arrival = 1"],
        "arrival 1 is confirmed but its connector is missing",
    ),
}


@pytest.mark.parametrize(("statements", "fault"), TAMPERING.values(), ids=TAMPERING)
def test_tampering_is_named(filled, statements, fault):
    """Each change behind the program's back is found and named."""
    assert any(fault in said for said in tampered(filled, *statements))


def test_the_first_broken_event_is_named(filled):
    """Of many broken events of a station the first is named; the rest cannot be trusted anyway."""
    (said,) = [s for s in tampered(filled, "UPDATE events SET who = 'Eve'") if "altered" in s]
    assert "-1: it was altered" in said


def test_a_rewritten_chain_still_shows_in_the_state(filled):
    """Someone who also recomputes every hash still has to rewrite the present state."""
    from dataclasses import replace

    from stampreader.register.events import sealed
    from stampreader.register.store import event_of, row_of

    with sqlite3.connect(filled) as conn:
        conn.row_factory = sqlite3.Row
        rows = [event_of(dict(row)) for row in conn.execute("SELECT * FROM events ORDER BY number")]
    conn.close()
    forged, previous = [], ""
    for event in rows:
        body = json.loads(json.dumps(dict(event.body)).replace('"27"', '"45"'))
        forged.append(sealed(replace(event, body=body, previous=previous)))
        previous = forged[-1].hash
    places = ", ".join("?" * 12)
    with sqlite3.connect(filled) as conn:
        for (name,) in conn.execute(
            "SELECT name FROM sqlite_schema WHERE type = 'trigger'"
        ).fetchall():
            conn.execute(f"DROP TRIGGER {name}")
        conn.execute("DELETE FROM events")
        conn.executemany(f"INSERT INTO events VALUES ({places})", map(row_of, forged))
    conn.close()
    with open_register(filled) as register:
        assert any("differs from its history" in said for said in check_register(register))

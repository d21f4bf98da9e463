"""The register's shape, as numbered steps that are never edited once released.

Each step and the record of it having been taken are one transaction.
"""

from __future__ import annotations

from sqlite_utils import Database, Migrations

APPLICATION_ID = 0x73746D70
"""Marks the file as a register of ours (`stmp` in ASCII) in SQLite's own header."""

MIGRATIONS = Migrations("stampreader")

_HISTORY = """
CREATE TABLE stations (
    station TEXT PRIMARY KEY,
    bound_to TEXT NOT NULL,
    since TEXT NOT NULL
) STRICT;

CREATE TABLE events (
    station TEXT NOT NULL,
    number INTEGER NOT NULL CHECK (number >= 1),
    kind TEXT NOT NULL,
    connector TEXT,
    after TEXT NOT NULL,
    happened_on TEXT NOT NULL,
    at TEXT NOT NULL,
    turn TEXT NOT NULL,
    who TEXT NOT NULL,
    body TEXT NOT NULL,
    previous TEXT NOT NULL,
    hash TEXT NOT NULL,
    UNIQUE (station, number)
) STRICT;
CREATE INDEX events_of_connector ON events (connector, turn, station, number);
CREATE INDEX events_in_turn ON events (turn);
CREATE INDEX events_of_kind ON events (kind, happened_on);

CREATE TABLE mergers (
    station TEXT NOT NULL,
    first INTEGER NOT NULL,
    last INTEGER NOT NULL,
    at TEXT NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    PRIMARY KEY (station, first)
) STRICT, WITHOUT ROWID;

CREATE TRIGGER events_continue_their_chain BEFORE INSERT ON events
WHEN NEW.number != 1 + coalesce(
        (SELECT max(number) FROM events WHERE station = NEW.station), 0)
    OR NEW.previous != coalesce(
        (SELECT hash FROM events WHERE station = NEW.station AND number = NEW.number - 1), '')
BEGIN
    SELECT RAISE(ABORT, 'an event must continue the chain of its station');
END;
CREATE TRIGGER events_are_not_changed BEFORE UPDATE ON events
BEGIN
    SELECT RAISE(ABORT, 'the history is not changed, only continued');
END;
CREATE TRIGGER events_are_not_removed BEFORE DELETE ON events
BEGIN
    SELECT RAISE(ABORT, 'the history is not changed, only continued');
END;
"""

_EVIDENCE = """
CREATE TABLE photos (
    sha256 TEXT PRIMARY KEY,
    name TEXT NOT NULL,
    width_px INTEGER NOT NULL,
    height_px INTEGER NOT NULL,
    taken_on TEXT,
    first_at TEXT NOT NULL
) STRICT;

CREATE TABLE readings (
    photo TEXT NOT NULL REFERENCES photos (sha256),
    readers TEXT NOT NULL,
    at TEXT NOT NULL,
    body TEXT NOT NULL,
    PRIMARY KEY (photo, readers)
) STRICT;

CREATE TABLE crops (
    sha256 TEXT PRIMARY KEY,
    photo TEXT NOT NULL REFERENCES photos (sha256),
    stamp INTEGER NOT NULL,
    media TEXT NOT NULL,
    picture BLOB NOT NULL
) STRICT;
CREATE INDEX crops_of_photo ON crops (photo, stamp);
"""

_ARRIVALS = """
CREATE TABLE arrivals (
    arrival INTEGER PRIMARY KEY,
    delivery TEXT NOT NULL,
    label TEXT,
    notes TEXT NOT NULL,
    status TEXT NOT NULL CHECK (status IN ('waiting', 'confirmed', 'set-aside')),
    connector TEXT,
    decided_by TEXT,
    decided_turn TEXT,
    since TEXT NOT NULL
) STRICT;
CREATE INDEX arrivals_by_status ON arrivals (status, delivery, arrival);
CREATE INDEX arrivals_by_connector ON arrivals (connector);
CREATE INDEX arrivals_by_decision ON arrivals (decided_turn) WHERE decided_turn IS NOT NULL;

CREATE TABLE arrival_photos (
    photo TEXT NOT NULL REFERENCES photos (sha256),
    stamp INTEGER NOT NULL,
    readers TEXT NOT NULL,
    arrival INTEGER NOT NULL REFERENCES arrivals (arrival),
    crop TEXT REFERENCES crops (sha256),
    path TEXT NOT NULL,
    PRIMARY KEY (photo, stamp),
    FOREIGN KEY (photo, readers) REFERENCES readings (photo, readers)
) STRICT;
CREATE INDEX photos_of_arrival ON arrival_photos (arrival);
"""

_DERIVED = """
CREATE TABLE connectors (
    uid TEXT PRIMARY KEY,
    id TEXT NOT NULL COLLATE NOCASE,
    prefix TEXT NOT NULL COLLATE NOCASE,
    running INTEGER NOT NULL,
    life TEXT NOT NULL,
    life_reason TEXT NOT NULL,
    maker TEXT NOT NULL COLLATE NOCASE,
    model TEXT NOT NULL COLLATE NOCASE,
    serial TEXT NOT NULL COLLATE NOCASE,
    batch TEXT NOT NULL COLLATE NOCASE,
    made_on TEXT NOT NULL,
    shape TEXT NOT NULL COLLATE NOCASE,
    material TEXT NOT NULL COLLATE NOCASE,
    gate TEXT NOT NULL COLLATE NOCASE,
    delivery TEXT NOT NULL COLLATE NOCASE,
    note TEXT NOT NULL,
    closed_kN TEXT,
    cross_kN TEXT,
    open_kN TEXT,
    closed_N INTEGER,
    marks TEXT NOT NULL,
    place TEXT NOT NULL COLLATE NOCASE,
    by_hand INTEGER NOT NULL,
    registered_on TEXT NOT NULL,
    in_service_on TEXT NOT NULL,
    inspected_on TEXT NOT NULL,
    retired_on TEXT NOT NULL,
    due_from_on TEXT NOT NULL,
    conflicts TEXT NOT NULL,
    latest TEXT NOT NULL
) STRICT;
CREATE INDEX connectors_by_name ON connectors (id);
CREATE INDEX connectors_by_id ON connectors (prefix, running, id);
CREATE INDEX connectors_by_life ON connectors (life, prefix, running, id);
CREATE INDEX connectors_by_maker ON connectors (maker, model, prefix, running);
CREATE INDEX connectors_by_model ON connectors (model, prefix, running);
CREATE INDEX connectors_by_delivery ON connectors (delivery, prefix, running);
CREATE INDEX connectors_by_batch ON connectors (batch, prefix, running);
CREATE INDEX connectors_by_serial ON connectors (serial);
CREATE INDEX connectors_by_made ON connectors (made_on);
CREATE INDEX connectors_by_place ON connectors (place, life, prefix, running);
CREATE INDEX connectors_by_due ON connectors (life, due_from_on);
CREATE INDEX connectors_by_closed ON connectors (closed_N, prefix, running);
CREATE INDEX connectors_in_conflict ON connectors (uid) WHERE conflicts != '[]';

CREATE TABLE connector_marks (
    mark TEXT NOT NULL COLLATE NOCASE,
    uid TEXT NOT NULL REFERENCES connectors (uid),
    PRIMARY KEY (mark, uid)
) STRICT, WITHOUT ROWID;
CREATE INDEX marks_of_connector ON connector_marks (uid);

CREATE TABLE connector_photos (
    photo TEXT NOT NULL,
    stamp INTEGER NOT NULL,
    uid TEXT NOT NULL REFERENCES connectors (uid),
    crop TEXT NOT NULL,
    PRIMARY KEY (photo, stamp, uid)
) STRICT, WITHOUT ROWID;
CREATE INDEX photos_of_connector ON connector_photos (uid);

CREATE TABLE settings (
    name TEXT PRIMARY KEY,
    value TEXT NOT NULL
) STRICT;

CREATE VIEW decisions AS
SELECT station || '-' || number AS event, kind AS decision, connector, who, at, happened_on, body
FROM events
WHERE kind IN ('registered', 'corrected', 'withdrawn', 'set-aside', 'brought-back', 'settled');
"""


def _kept_as_they_are(table: str) -> str:
    return f"""
CREATE TRIGGER {table}_are_not_changed BEFORE UPDATE ON {table}
BEGIN
    SELECT RAISE(ABORT, 'evidence is kept as it was taken');
END;
CREATE TRIGGER {table}_are_not_removed BEFORE DELETE ON {table}
BEGIN
    SELECT RAISE(ABORT, 'evidence is kept as it was taken');
END;
"""


def run_statements(db: Database, script: str) -> None:
    """Run a script statement by statement inside the open transaction.

    (`executescript` would commit the transaction first.)
    """
    import sqlite3

    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            db.conn.execute(statement)
            statement = ""


@MIGRATIONS()
def m001_history_evidence_and_arrivals(db: Database) -> None:
    """History, evidence, arrivals waiting to be confirmed, and what is worked out from them."""
    db.conn.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    for script in (_HISTORY, _EVIDENCE, _ARRIVALS, _DERIVED):
        run_statements(db, script)
    for table in ("photos", "readings", "crops"):
        run_statements(db, _kept_as_they_are(table))


@MIGRATIONS()
def m002_indexes_for_picking(db: Database) -> None:
    """Gates, shapes and days are looked up, so that what is fit or due is found at once."""
    run_statements(
        db,
        "CREATE INDEX connectors_by_gate ON connectors (gate);\n"
        "CREATE INDEX connectors_by_shape ON connectors (shape);\n"
        "CREATE INDEX connectors_by_start ON connectors (due_from_on, prefix, running);\n",
    )


def names() -> list[str]:
    """Names of all steps this program knows, oldest first."""
    return [step.name for step in MIGRATIONS._migrations]

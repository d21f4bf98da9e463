PRAGMA application_id = 1937010032;
CREATE TABLE "_sqlite_migrations" (
   "id" INTEGER PRIMARY KEY,
   "migration_set" TEXT,
   "name" TEXT,
   "applied_at" TEXT
);
CREATE UNIQUE INDEX "idx__sqlite_migrations_migration_set_name"
    ON "_sqlite_migrations" ("migration_set", "name");
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
CREATE TRIGGER photos_are_not_changed BEFORE UPDATE ON photos
BEGIN
    SELECT RAISE(ABORT, 'evidence is kept as it was taken');
END;
CREATE TRIGGER photos_are_not_removed BEFORE DELETE ON photos
BEGIN
    SELECT RAISE(ABORT, 'evidence is kept as it was taken');
END;
CREATE TRIGGER readings_are_not_changed BEFORE UPDATE ON readings
BEGIN
    SELECT RAISE(ABORT, 'evidence is kept as it was taken');
END;
CREATE TRIGGER readings_are_not_removed BEFORE DELETE ON readings
BEGIN
    SELECT RAISE(ABORT, 'evidence is kept as it was taken');
END;
CREATE TRIGGER crops_are_not_changed BEFORE UPDATE ON crops
BEGIN
    SELECT RAISE(ABORT, 'evidence is kept as it was taken');
END;
CREATE TRIGGER crops_are_not_removed BEFORE DELETE ON crops
BEGIN
    SELECT RAISE(ABORT, 'evidence is kept as it was taken');
END;
CREATE INDEX connectors_by_gate ON connectors (gate);
CREATE INDEX connectors_by_shape ON connectors (shape);
CREATE INDEX connectors_by_start ON connectors (due_from_on, prefix, running);

-- Photos, readings and sets. Who added or measured is kept as id and name
-- without a foreign key: the record outlives accounts, and the operator at the
-- command line has none.

-- +goose Up
CREATE TABLE photos (
    id           TEXT NOT NULL PRIMARY KEY,
    site_id      TEXT NOT NULL REFERENCES sites (id),
    sha256       TEXT NOT NULL,
    size         INTEGER NOT NULL,
    file_name    TEXT NOT NULL,
    capture      TEXT NOT NULL,
    received_at  INTEGER NOT NULL,
    added_by     TEXT NOT NULL,
    added_name   TEXT NOT NULL,
    gang         TEXT NOT NULL,
    stage        TEXT NOT NULL,
    elevation_id TEXT,
    x_mm         INTEGER,
    z_mm         INTEGER,
    bay          INTEGER NOT NULL,
    lift         INTEGER NOT NULL,
    opening      TEXT NOT NULL,
    zone         TEXT NOT NULL,
    placed_by    TEXT NOT NULL,
    facing       TEXT NOT NULL,
    label_seen   INTEGER NOT NULL,
    scale_seen   INTEGER NOT NULL,
    kind         TEXT NOT NULL,
    note         TEXT NOT NULL,
    grade        TEXT NOT NULL,
    flags        TEXT NOT NULL,
    overruled    TEXT NOT NULL,
    derived      TEXT NOT NULL,
    version      INTEGER NOT NULL,
    CONSTRAINT photos_site_id_id_key UNIQUE (site_id, id),
    CONSTRAINT photos_site_id_sha256_key UNIQUE (site_id, sha256),
    CONSTRAINT photos_elevation_id_fkey FOREIGN KEY (site_id, elevation_id) REFERENCES elevations (site_id, id),
    CONSTRAINT photos_zone_check CHECK (zone IN ('', 'field', 'edge', 'ground')),
    CONSTRAINT photos_placed_by_check CHECK (placed_by IN ('', 'program', 'person')),
    CONSTRAINT photos_grade_check CHECK (grade IN ('', 'A', 'B', 'C', 'X')),
    CONSTRAINT photos_label_seen_check CHECK (label_seen IN (0, 1)),
    CONSTRAINT photos_scale_seen_check CHECK (scale_seen IN (0, 1)),
    CONSTRAINT photos_size_check CHECK (size >= 0),
    CONSTRAINT photos_version_check CHECK (version > 0)
) STRICT;

CREATE INDEX photos_newest ON photos (site_id, received_at, id);
CREATE INDEX photos_elevation ON photos (site_id, elevation_id, received_at, id);
CREATE INDEX photos_waiting ON photos (received_at, id) WHERE derived = '';

CREATE TABLE sets (
    id           TEXT NOT NULL PRIMARY KEY,
    site_id      TEXT NOT NULL REFERENCES sites (id),
    quantity     TEXT NOT NULL,
    name         TEXT NOT NULL,
    elevation_id TEXT,
    x_mm         INTEGER,
    z_mm         INTEGER,
    bay          INTEGER NOT NULL,
    lift         INTEGER NOT NULL,
    opening      TEXT NOT NULL,
    zone         TEXT NOT NULL,
    substrate    TEXT NOT NULL,
    stage        TEXT NOT NULL,
    readings     INTEGER NOT NULL,
    outcome      TEXT NOT NULL,
    verdict      TEXT NOT NULL,
    result       TEXT,
    result_text  TEXT NOT NULL,
    version      INTEGER NOT NULL,
    CONSTRAINT sets_site_id_id_key UNIQUE (site_id, id),
    CONSTRAINT sets_elevation_id_fkey FOREIGN KEY (site_id, elevation_id) REFERENCES elevations (site_id, id),
    CONSTRAINT sets_zone_check CHECK (zone IN ('', 'field', 'edge', 'ground')),
    CONSTRAINT sets_outcome_check CHECK (outcome IN
        ('', 'pass', 'conditional-pass', 'conditional-fail', 'fail', 'none')),
    CONSTRAINT sets_version_check CHECK (version > 0)
) STRICT;

CREATE INDEX sets_elevation ON sets (site_id, elevation_id);

-- client_id: what the sender called it, '' for none; once a site. entered_name:
-- who typed it in, as known then.
-- unanswered: fails or is conditional, stands, and no snag was raised from it.
CREATE TABLE readings (
    id            TEXT NOT NULL PRIMARY KEY,
    site_id       TEXT NOT NULL REFERENCES sites (id),
    client_id     TEXT NOT NULL,
    set_id        TEXT,
    quantity      TEXT NOT NULL,
    value         TEXT NOT NULL,
    unit          TEXT NOT NULL,
    expanded      TEXT,
    base_length   TEXT,
    nominal       TEXT,
    area          TEXT,
    courses       INTEGER NOT NULL,
    failure_plane TEXT NOT NULL,
    mode          TEXT NOT NULL,
    dolly         TEXT NOT NULL,
    instrument_id TEXT,
    instrument    TEXT NOT NULL,
    measured_at   INTEGER NOT NULL,
    by_id         TEXT NOT NULL,
    by_name       TEXT NOT NULL,
    gang          TEXT NOT NULL,
    batch         TEXT NOT NULL,
    stage         TEXT NOT NULL,
    elevation_id  TEXT,
    x_mm          INTEGER,
    z_mm          INTEGER,
    bay           INTEGER NOT NULL,
    lift          INTEGER NOT NULL,
    opening       TEXT NOT NULL,
    zone          TEXT NOT NULL,
    photos        TEXT NOT NULL,
    note          TEXT NOT NULL,
    confirmed     INTEGER NOT NULL,
    entered_by    TEXT NOT NULL,
    entered_name  TEXT NOT NULL,
    entered_at    INTEGER NOT NULL,
    withdrawn     TEXT NOT NULL,
    outcome       TEXT NOT NULL,
    verdict       TEXT NOT NULL,
    snag_number   INTEGER,
    unanswered    INTEGER NOT NULL,
    version       INTEGER NOT NULL,
    CONSTRAINT readings_site_id_id_key UNIQUE (site_id, id),
    CONSTRAINT readings_set_id_fkey FOREIGN KEY (site_id, set_id) REFERENCES sets (site_id, id),
    CONSTRAINT readings_instrument_id_fkey FOREIGN KEY (site_id, instrument_id) REFERENCES instruments (site_id, id),
    CONSTRAINT readings_elevation_id_fkey FOREIGN KEY (site_id, elevation_id) REFERENCES elevations (site_id, id),
    CONSTRAINT readings_snag_number_fkey FOREIGN KEY (site_id, snag_number) REFERENCES snags (site_id, number),
    CONSTRAINT readings_zone_check CHECK (zone IN ('', 'field', 'edge', 'ground')),
    CONSTRAINT readings_outcome_check CHECK (outcome IN
        ('', 'pass', 'conditional-pass', 'conditional-fail', 'fail', 'none')),
    CONSTRAINT readings_confirmed_check CHECK (confirmed IN (0, 1)),
    CONSTRAINT readings_unanswered_check CHECK (unanswered = (withdrawn = '' AND snag_number IS NULL
        AND outcome IN ('fail', 'conditional-fail', 'conditional-pass'))),
    CONSTRAINT readings_version_check CHECK (version > 0)
) STRICT;

CREATE INDEX readings_newest ON readings (site_id, measured_at, id);
CREATE INDEX readings_elevation ON readings (site_id, elevation_id, measured_at, id);
CREATE INDEX readings_quantity ON readings (site_id, quantity, measured_at, id);
CREATE INDEX readings_set ON readings (site_id, set_id, measured_at, id);
CREATE INDEX readings_instrument ON readings (site_id, instrument_id);
CREATE UNIQUE INDEX readings_client ON readings (site_id, client_id) WHERE client_id <> '';
CREATE INDEX readings_unanswered ON readings (site_id, measured_at, id) WHERE unanswered;
CREATE INDEX readings_snag ON readings (site_id, snag_number) WHERE snag_number IS NOT NULL;

-- In tables WITHOUT ROWID the columns of the key come first: integrity_check of
-- SQLite 3.40 and earlier reports NULLs that are not there otherwise.
CREATE TABLE reading_photos (
    reading_id TEXT NOT NULL,
    photo_id   TEXT NOT NULL,
    site_id    TEXT NOT NULL,
    CONSTRAINT reading_photos_pkey PRIMARY KEY (reading_id, photo_id),
    CONSTRAINT reading_photos_reading_id_fkey FOREIGN KEY (site_id, reading_id) REFERENCES readings (site_id, id),
    CONSTRAINT reading_photos_photo_id_fkey FOREIGN KEY (site_id, photo_id) REFERENCES photos (site_id, id)
) STRICT, WITHOUT ROWID;

CREATE INDEX reading_photos_photo ON reading_photos (site_id, photo_id);

-- +goose Down
DROP TABLE reading_photos;
DROP TABLE readings;
DROP TABLE sets;
DROP TABLE photos;

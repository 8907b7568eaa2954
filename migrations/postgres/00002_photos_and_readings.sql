-- Photos, readings and sets. Who added or measured is kept as id and name
-- without a foreign key: the record outlives accounts, and the operator at the
-- command line has none.

-- +goose Up
CREATE TABLE photos (
    id           TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    site_id      TEXT COLLATE "C" NOT NULL REFERENCES sites (id),
    sha256       TEXT COLLATE "C" NOT NULL,
    size         BIGINT NOT NULL,
    file_name    TEXT COLLATE "C" NOT NULL,
    capture      TEXT COLLATE "C" NOT NULL,
    received_at  BIGINT NOT NULL,
    added_by     TEXT COLLATE "C" NOT NULL,
    added_name   TEXT COLLATE "C" NOT NULL,
    gang         TEXT COLLATE "C" NOT NULL,
    stage        TEXT COLLATE "C" NOT NULL,
    elevation_id TEXT COLLATE "C",
    x_mm         BIGINT,
    z_mm         BIGINT,
    bay          BIGINT NOT NULL,
    lift         BIGINT NOT NULL,
    opening      TEXT COLLATE "C" NOT NULL,
    zone         TEXT COLLATE "C" NOT NULL,
    placed_by    TEXT COLLATE "C" NOT NULL,
    facing       TEXT COLLATE "C" NOT NULL,
    label_seen   BOOLEAN NOT NULL,
    scale_seen   BOOLEAN NOT NULL,
    kind         TEXT COLLATE "C" NOT NULL,
    note         TEXT COLLATE "C" NOT NULL,
    grade        TEXT COLLATE "C" NOT NULL,
    flags        TEXT COLLATE "C" NOT NULL,
    overruled    TEXT COLLATE "C" NOT NULL,
    derived      TEXT COLLATE "C" NOT NULL,
    version      BIGINT NOT NULL,
    CONSTRAINT photos_site_id_id_key UNIQUE (site_id, id),
    CONSTRAINT photos_site_id_sha256_key UNIQUE (site_id, sha256),
    CONSTRAINT photos_elevation_id_fkey FOREIGN KEY (site_id, elevation_id) REFERENCES elevations (site_id, id),
    CONSTRAINT photos_zone_check CHECK (zone IN ('', 'field', 'edge', 'ground')),
    CONSTRAINT photos_placed_by_check CHECK (placed_by IN ('', 'program', 'person')),
    CONSTRAINT photos_grade_check CHECK (grade IN ('', 'A', 'B', 'C', 'X')),
    CONSTRAINT photos_size_check CHECK (size >= 0),
    CONSTRAINT photos_version_check CHECK (version > 0)
);

CREATE INDEX photos_newest ON photos (site_id, received_at, id);
CREATE INDEX photos_elevation ON photos (site_id, elevation_id, received_at, id);
CREATE INDEX photos_waiting ON photos (received_at, id) WHERE derived = '';

CREATE TABLE sets (
    id           TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    site_id      TEXT COLLATE "C" NOT NULL REFERENCES sites (id),
    quantity     TEXT COLLATE "C" NOT NULL,
    name         TEXT COLLATE "C" NOT NULL,
    elevation_id TEXT COLLATE "C",
    x_mm         BIGINT,
    z_mm         BIGINT,
    bay          BIGINT NOT NULL,
    lift         BIGINT NOT NULL,
    opening      TEXT COLLATE "C" NOT NULL,
    zone         TEXT COLLATE "C" NOT NULL,
    substrate    TEXT COLLATE "C" NOT NULL,
    stage        TEXT COLLATE "C" NOT NULL,
    readings     BIGINT NOT NULL,
    outcome      TEXT COLLATE "C" NOT NULL,
    verdict      TEXT COLLATE "C" NOT NULL,
    result       TEXT COLLATE "C",
    result_text  TEXT COLLATE "C" NOT NULL,
    version      BIGINT NOT NULL,
    CONSTRAINT sets_site_id_id_key UNIQUE (site_id, id),
    CONSTRAINT sets_elevation_id_fkey FOREIGN KEY (site_id, elevation_id) REFERENCES elevations (site_id, id),
    CONSTRAINT sets_zone_check CHECK (zone IN ('', 'field', 'edge', 'ground')),
    CONSTRAINT sets_outcome_check CHECK (outcome IN
        ('', 'pass', 'conditional-pass', 'conditional-fail', 'fail', 'none')),
    CONSTRAINT sets_version_check CHECK (version > 0)
);

CREATE INDEX sets_elevation ON sets (site_id, elevation_id);

-- client_id: what the sender called it, '' for none; once a site. entered_name:
-- who typed it in, as known then.
-- unanswered: fails or is conditional, stands, and no snag was raised from it.
CREATE TABLE readings (
    id            TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    site_id       TEXT COLLATE "C" NOT NULL REFERENCES sites (id),
    client_id     TEXT NOT NULL,
    set_id        TEXT COLLATE "C",
    quantity      TEXT COLLATE "C" NOT NULL,
    value         TEXT COLLATE "C" NOT NULL,
    unit          TEXT COLLATE "C" NOT NULL,
    expanded      TEXT COLLATE "C",
    base_length   TEXT COLLATE "C",
    nominal       TEXT COLLATE "C",
    area          TEXT COLLATE "C",
    courses       BIGINT NOT NULL,
    failure_plane TEXT COLLATE "C" NOT NULL,
    mode          TEXT COLLATE "C" NOT NULL,
    dolly         TEXT COLLATE "C" NOT NULL,
    instrument_id TEXT COLLATE "C",
    instrument    TEXT COLLATE "C" NOT NULL,
    measured_at   BIGINT NOT NULL,
    by_id         TEXT COLLATE "C" NOT NULL,
    by_name       TEXT COLLATE "C" NOT NULL,
    gang          TEXT COLLATE "C" NOT NULL,
    batch         TEXT COLLATE "C" NOT NULL,
    stage         TEXT COLLATE "C" NOT NULL,
    elevation_id  TEXT COLLATE "C",
    x_mm          BIGINT,
    z_mm          BIGINT,
    bay           BIGINT NOT NULL,
    lift          BIGINT NOT NULL,
    opening       TEXT COLLATE "C" NOT NULL,
    zone          TEXT COLLATE "C" NOT NULL,
    photos        TEXT COLLATE "C" NOT NULL,
    note          TEXT COLLATE "C" NOT NULL,
    confirmed     BOOLEAN NOT NULL,
    entered_by    TEXT COLLATE "C" NOT NULL,
    entered_name  TEXT NOT NULL,
    entered_at    BIGINT NOT NULL,
    withdrawn     TEXT COLLATE "C" NOT NULL,
    outcome       TEXT COLLATE "C" NOT NULL,
    verdict       TEXT COLLATE "C" NOT NULL,
    snag_number   BIGINT,
    unanswered    BOOLEAN NOT NULL,
    version       BIGINT NOT NULL,
    CONSTRAINT readings_site_id_id_key UNIQUE (site_id, id),
    CONSTRAINT readings_set_id_fkey FOREIGN KEY (site_id, set_id) REFERENCES sets (site_id, id),
    CONSTRAINT readings_instrument_id_fkey FOREIGN KEY (site_id, instrument_id) REFERENCES instruments (site_id, id),
    CONSTRAINT readings_elevation_id_fkey FOREIGN KEY (site_id, elevation_id) REFERENCES elevations (site_id, id),
    CONSTRAINT readings_zone_check CHECK (zone IN ('', 'field', 'edge', 'ground')),
    CONSTRAINT readings_outcome_check CHECK (outcome IN
        ('', 'pass', 'conditional-pass', 'conditional-fail', 'fail', 'none')),
    CONSTRAINT readings_unanswered_check CHECK (unanswered = (withdrawn = '' AND snag_number IS NULL
        AND outcome IN ('fail', 'conditional-fail', 'conditional-pass'))),
    CONSTRAINT readings_version_check CHECK (version > 0)
);

CREATE INDEX readings_newest ON readings (site_id, measured_at, id);
CREATE INDEX readings_elevation ON readings (site_id, elevation_id, measured_at, id);
CREATE INDEX readings_quantity ON readings (site_id, quantity, measured_at, id);
CREATE INDEX readings_set ON readings (site_id, set_id, measured_at, id);
CREATE INDEX readings_instrument ON readings (site_id, instrument_id);
CREATE UNIQUE INDEX readings_client ON readings (site_id, client_id) WHERE client_id <> '';
CREATE INDEX readings_unanswered ON readings (site_id, measured_at, id) WHERE unanswered;
CREATE INDEX readings_snag ON readings (site_id, snag_number) WHERE snag_number IS NOT NULL;

CREATE TABLE reading_photos (
    site_id    TEXT COLLATE "C" NOT NULL,
    reading_id TEXT COLLATE "C" NOT NULL,
    photo_id   TEXT COLLATE "C" NOT NULL,
    CONSTRAINT reading_photos_pkey PRIMARY KEY (reading_id, photo_id),
    CONSTRAINT reading_photos_reading_id_fkey FOREIGN KEY (site_id, reading_id) REFERENCES readings (site_id, id),
    CONSTRAINT reading_photos_photo_id_fkey FOREIGN KEY (site_id, photo_id) REFERENCES photos (site_id, id)
);

CREATE INDEX reading_photos_photo ON reading_photos (site_id, photo_id);

-- +goose Down
DROP TABLE reading_photos;
DROP TABLE readings;
DROP TABLE sets;
DROP TABLE photos;

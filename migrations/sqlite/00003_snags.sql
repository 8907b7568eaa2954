-- Snags, the photos they use, and answers to hold points. snags.photos keeps
-- the order for reading; snag_photos holds the same ids for searching, and both
-- are written together.

-- +goose Up
CREATE TABLE snags (
    id              TEXT NOT NULL PRIMARY KEY,
    site_id         TEXT NOT NULL REFERENCES sites (id),
    number          INTEGER NOT NULL,
    code            TEXT NOT NULL,
    title           TEXT NOT NULL,
    stage           TEXT NOT NULL,
    severity        TEXT NOT NULL,
    extent          TEXT NOT NULL,
    covered         INTEGER NOT NULL,
    elevation_id    TEXT,
    x_mm            INTEGER,
    z_mm            INTEGER,
    bay             INTEGER NOT NULL,
    lift            INTEGER NOT NULL,
    opening         TEXT NOT NULL,
    zone            TEXT NOT NULL,
    place_words     TEXT NOT NULL,
    requirement     TEXT NOT NULL,
    text            TEXT NOT NULL,
    reading_id      TEXT,
    reading_text    TEXT NOT NULL,
    quantity        TEXT NOT NULL,
    competent       TEXT NOT NULL,
    gang            TEXT NOT NULL,
    state           TEXT NOT NULL,
    is_open         INTEGER NOT NULL,
    round           INTEGER NOT NULL,
    raised_by_id    TEXT NOT NULL,
    raised_by_name  TEXT NOT NULL,
    raised_by_role  TEXT NOT NULL,
    raised_at       INTEGER NOT NULL,
    instructed_at   INTEGER,
    own_due         TEXT NOT NULL,
    planned_on      TEXT NOT NULL,
    defer_until     TEXT NOT NULL,
    offered_by      TEXT NOT NULL,
    made_good       TEXT NOT NULL,
    offer_photos    TEXT NOT NULL,
    offer_reading_id TEXT,
    first_signed    TEXT NOT NULL,
    closed_at       INTEGER,
    dispute_by      TEXT NOT NULL,
    ground          TEXT NOT NULL,
    concession      TEXT NOT NULL,
    photos          TEXT NOT NULL,
    walk_rank       INTEGER NOT NULL,
    version         INTEGER NOT NULL,
    CONSTRAINT snags_site_id_id_key UNIQUE (site_id, id),
    CONSTRAINT snags_site_id_number_key UNIQUE (site_id, number),
    CONSTRAINT snags_elevation_id_fkey FOREIGN KEY (site_id, elevation_id) REFERENCES elevations (site_id, id),
    CONSTRAINT snags_reading_id_fkey FOREIGN KEY (site_id, reading_id) REFERENCES readings (site_id, id),
    CONSTRAINT snags_offer_reading_id_fkey FOREIGN KEY (site_id, offer_reading_id) REFERENCES readings (site_id, id),
    CONSTRAINT snags_state_check CHECK (state IN
        ('raised', 'instructed', 'offered', 'disputed', 'deferred', 'closed', 'conceded', 'withdrawn')),
    CONSTRAINT snags_is_open_check CHECK (is_open = (state NOT IN ('closed', 'conceded', 'withdrawn'))),
    CONSTRAINT snags_severity_check CHECK (severity IN ('critical', 'major', 'minor')),
    CONSTRAINT snags_extent_check CHECK (extent IN ('single', 'several', 'pattern')),
    CONSTRAINT snags_covered_check CHECK (covered IN (0, 1)),
    CONSTRAINT snags_zone_check CHECK (zone IN ('', 'field', 'edge', 'ground')),
    CONSTRAINT snags_ground_check CHECK (ground IN
        ('', 'not ours', 'within tolerance', 'measured wrongly', 'design', 'damage by others')),
    CONSTRAINT snags_number_check CHECK (number > 0),
    CONSTRAINT snags_version_check CHECK (version > 0)
) STRICT;

CREATE INDEX snags_walk ON snags (site_id, elevation_id, walk_rank, number);
CREATE INDEX snags_open_walk ON snags (site_id, elevation_id, walk_rank, number) WHERE is_open;
CREATE INDEX snags_totals ON snags (site_id, elevation_id, state, severity);
CREATE INDEX snags_gang ON snags (site_id, gang, number);
CREATE INDEX snags_reading ON snags (site_id, reading_id) WHERE reading_id IS NOT NULL;
CREATE INDEX snags_offer_reading ON snags (site_id, offer_reading_id) WHERE offer_reading_id IS NOT NULL;

CREATE TABLE snag_photos (
    snag_id  TEXT NOT NULL,
    photo_id TEXT NOT NULL,
    site_id  TEXT NOT NULL,
    CONSTRAINT snag_photos_pkey PRIMARY KEY (snag_id, photo_id),
    CONSTRAINT snag_photos_snag_id_fkey FOREIGN KEY (site_id, snag_id) REFERENCES snags (site_id, id),
    CONSTRAINT snag_photos_photo_id_fkey FOREIGN KEY (site_id, photo_id) REFERENCES photos (site_id, id)
) STRICT, WITHOUT ROWID;

CREATE INDEX snag_photos_photo ON snag_photos (site_id, photo_id);

CREATE TABLE releases (
    id           TEXT NOT NULL PRIMARY KEY,
    site_id      TEXT NOT NULL REFERENCES sites (id),
    hold_point   TEXT NOT NULL,
    elevation_id TEXT,
    bay_from     INTEGER NOT NULL,
    bay_to       INTEGER NOT NULL,
    lift_from    INTEGER NOT NULL,
    lift_to      INTEGER NOT NULL,
    outcome      TEXT NOT NULL,
    text         TEXT NOT NULL,
    by_id        TEXT NOT NULL,
    by_name      TEXT NOT NULL,
    by_role      TEXT NOT NULL,
    answered_at  INTEGER NOT NULL,
    CONSTRAINT releases_elevation_id_fkey FOREIGN KEY (site_id, elevation_id) REFERENCES elevations (site_id, id),
    CONSTRAINT releases_outcome_check CHECK (outcome IN
        ('released', 'released with conditions', 'refused', 'lapsed after notice'))
) STRICT;

CREATE INDEX releases_newest ON releases (site_id, answered_at, id);
CREATE INDEX releases_elevation ON releases (site_id, elevation_id);

-- +goose Down
UPDATE readings SET snag_number = NULL, unanswered = (withdrawn = ''
    AND outcome IN ('fail', 'conditional-fail', 'conditional-pass'));
DROP TABLE releases;
DROP TABLE snag_photos;
DROP TABLE snags;

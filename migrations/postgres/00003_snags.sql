-- Snags, the photos they use, and answers to hold points. snags.photos keeps
-- the order for reading; snag_photos holds the same ids for searching, and both
-- are written together.

-- +goose Up
CREATE TABLE snags (
    id              TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    site_id         TEXT COLLATE "C" NOT NULL REFERENCES sites (id),
    number          BIGINT NOT NULL,
    code            TEXT COLLATE "C" NOT NULL,
    title           TEXT COLLATE "C" NOT NULL,
    stage           TEXT COLLATE "C" NOT NULL,
    severity        TEXT COLLATE "C" NOT NULL,
    extent          TEXT COLLATE "C" NOT NULL,
    covered         BOOLEAN NOT NULL,
    elevation_id    TEXT COLLATE "C",
    x_mm            BIGINT,
    z_mm            BIGINT,
    bay             BIGINT NOT NULL,
    lift            BIGINT NOT NULL,
    opening         TEXT COLLATE "C" NOT NULL,
    zone            TEXT COLLATE "C" NOT NULL,
    place_words     TEXT COLLATE "C" NOT NULL,
    requirement     TEXT COLLATE "C" NOT NULL,
    text            TEXT COLLATE "C" NOT NULL,
    reading_id      TEXT COLLATE "C",
    reading_text    TEXT COLLATE "C" NOT NULL,
    quantity        TEXT COLLATE "C" NOT NULL,
    competent       TEXT COLLATE "C" NOT NULL,
    gang            TEXT COLLATE "C" NOT NULL,
    state           TEXT COLLATE "C" NOT NULL,
    is_open         BOOLEAN NOT NULL,
    round           BIGINT NOT NULL,
    raised_by_id    TEXT COLLATE "C" NOT NULL,
    raised_by_name  TEXT COLLATE "C" NOT NULL,
    raised_by_role  TEXT COLLATE "C" NOT NULL,
    raised_at       BIGINT NOT NULL,
    instructed_at   BIGINT,
    own_due         TEXT COLLATE "C" NOT NULL,
    planned_on      TEXT COLLATE "C" NOT NULL,
    defer_until     TEXT COLLATE "C" NOT NULL,
    offered_by      TEXT COLLATE "C" NOT NULL,
    made_good       TEXT COLLATE "C" NOT NULL,
    offer_photos    TEXT COLLATE "C" NOT NULL,
    offer_reading_id TEXT COLLATE "C",
    first_signed    TEXT COLLATE "C" NOT NULL,
    closed_at       BIGINT,
    dispute_by      TEXT COLLATE "C" NOT NULL,
    ground          TEXT COLLATE "C" NOT NULL,
    concession      TEXT COLLATE "C" NOT NULL,
    photos          TEXT COLLATE "C" NOT NULL,
    walk_rank       BIGINT NOT NULL,
    version         BIGINT NOT NULL,
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
    CONSTRAINT snags_zone_check CHECK (zone IN ('', 'field', 'edge', 'ground')),
    CONSTRAINT snags_ground_check CHECK (ground IN
        ('', 'not ours', 'within tolerance', 'measured wrongly', 'design', 'damage by others')),
    CONSTRAINT snags_number_check CHECK (number > 0),
    CONSTRAINT snags_version_check CHECK (version > 0)
);

-- NULLS FIRST as SQLite sorts them, so that one query serves both.
CREATE INDEX snags_walk ON snags (site_id, elevation_id NULLS FIRST, walk_rank, number);
CREATE INDEX snags_open_walk ON snags (site_id, elevation_id NULLS FIRST, walk_rank, number) WHERE is_open;
CREATE INDEX snags_totals ON snags (site_id, elevation_id, state, severity);
CREATE INDEX snags_gang ON snags (site_id, gang, number);
CREATE INDEX snags_reading ON snags (site_id, reading_id) WHERE reading_id IS NOT NULL;
CREATE INDEX snags_offer_reading ON snags (site_id, offer_reading_id) WHERE offer_reading_id IS NOT NULL;

CREATE TABLE snag_photos (
    site_id  TEXT COLLATE "C" NOT NULL,
    snag_id  TEXT COLLATE "C" NOT NULL,
    photo_id TEXT COLLATE "C" NOT NULL,
    CONSTRAINT snag_photos_pkey PRIMARY KEY (snag_id, photo_id),
    CONSTRAINT snag_photos_snag_id_fkey FOREIGN KEY (site_id, snag_id) REFERENCES snags (site_id, id),
    CONSTRAINT snag_photos_photo_id_fkey FOREIGN KEY (site_id, photo_id) REFERENCES photos (site_id, id)
);

CREATE INDEX snag_photos_photo ON snag_photos (site_id, photo_id);

CREATE TABLE releases (
    id           TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    site_id      TEXT COLLATE "C" NOT NULL REFERENCES sites (id),
    hold_point   TEXT COLLATE "C" NOT NULL,
    elevation_id TEXT COLLATE "C",
    bay_from     BIGINT NOT NULL,
    bay_to       BIGINT NOT NULL,
    lift_from    BIGINT NOT NULL,
    lift_to      BIGINT NOT NULL,
    outcome      TEXT COLLATE "C" NOT NULL,
    text         TEXT COLLATE "C" NOT NULL,
    by_id        TEXT COLLATE "C" NOT NULL,
    by_name      TEXT COLLATE "C" NOT NULL,
    by_role      TEXT COLLATE "C" NOT NULL,
    answered_at  BIGINT NOT NULL,
    CONSTRAINT releases_elevation_id_fkey FOREIGN KEY (site_id, elevation_id) REFERENCES elevations (site_id, id),
    CONSTRAINT releases_outcome_check CHECK (outcome IN
        ('released', 'released with conditions', 'refused', 'lapsed after notice'))
);

CREATE INDEX releases_newest ON releases (site_id, answered_at, id);
CREATE INDEX releases_elevation ON releases (site_id, elevation_id);

-- Readings came first, so their way to the snag is laid here.
ALTER TABLE readings ADD CONSTRAINT readings_snag_number_fkey
    FOREIGN KEY (site_id, snag_number) REFERENCES snags (site_id, number);

-- +goose Down
ALTER TABLE readings DROP CONSTRAINT readings_snag_number_fkey;
UPDATE readings SET snag_number = NULL, unanswered = (withdrawn = ''
    AND outcome IN ('fail', 'conditional-fail', 'conditional-pass'));
DROP TABLE releases;
DROP TABLE snag_photos;
DROP TABLE snags;

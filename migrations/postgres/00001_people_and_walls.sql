-- People, sites and what stands on them. Instants are microseconds since 1970
-- in UTC, days are 'YYYY-MM-DD', lengths are millimetres, decimals are the
-- exact text somebody wrote. Lists that no query looks into are JSON.
-- A key over (site_id, id) lets a child refer to its parent and the site at
-- once, so that no row can point into another site.

-- +goose Up
CREATE TABLE accounts (
    id            TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    login         TEXT COLLATE "C" NOT NULL,
    name          TEXT COLLATE "C" NOT NULL,
    password_hash TEXT COLLATE "C" NOT NULL,
    admin         BOOLEAN NOT NULL,
    disabled      BOOLEAN NOT NULL,
    created_at    BIGINT NOT NULL,
    version       BIGINT NOT NULL,
    CONSTRAINT accounts_login_key UNIQUE (login),
    CONSTRAINT accounts_version_check CHECK (version > 0)
);

CREATE TABLE keys (
    id         TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    hash       TEXT COLLATE "C" NOT NULL,
    account_id TEXT COLLATE "C" REFERENCES accounts (id),
    kind       TEXT COLLATE "C" NOT NULL,
    label      TEXT COLLATE "C" NOT NULL,
    created_at BIGINT NOT NULL,
    expires_at BIGINT NOT NULL,
    last_seen  BIGINT NOT NULL,
    revoked    BOOLEAN NOT NULL,
    CONSTRAINT keys_hash_key UNIQUE (hash),
    CONSTRAINT keys_kind_check CHECK (kind IN ('session', 'token', 'link'))
);

CREATE INDEX keys_account ON keys (account_id, created_at);
CREATE INDEX keys_expiry ON keys (expires_at);

CREATE TABLE sites (
    id         TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    name       TEXT COLLATE "C" NOT NULL,
    time_zone  TEXT COLLATE "C" NOT NULL,
    demo       BOOLEAN NOT NULL,
    rule       TEXT COLLATE "C" NOT NULL,
    guard      TEXT COLLATE "C" NOT NULL,
    schedules  TEXT COLLATE "C" NOT NULL,
    fence      TEXT COLLATE "C" NOT NULL,
    created_at BIGINT NOT NULL,
    version    BIGINT NOT NULL,
    CONSTRAINT sites_name_key UNIQUE (name),
    CONSTRAINT sites_rule_check CHECK (rule IN ('simple', 'guarded', 'four-way')),
    CONSTRAINT sites_version_check CHECK (version > 0)
);

-- One row a log: the last entry and, for a site, the last snag number given.
-- 'instance' is the log of what belongs to no site. On PostgreSQL a writer
-- locks the row of the site it works on, so a site has one writer at a time.
CREATE TABLE counters (
    id          TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    site_id     TEXT COLLATE "C" REFERENCES sites (id),
    snag_number BIGINT NOT NULL,
    log_seq     BIGINT NOT NULL,
    CONSTRAINT counters_site_id_key UNIQUE (site_id),
    CONSTRAINT counters_id_check CHECK ((site_id IS NULL AND id = 'instance') OR (site_id IS NOT NULL AND site_id = id)),
    CONSTRAINT counters_snag_number_check CHECK (snag_number >= 0),
    CONSTRAINT counters_log_seq_check CHECK (log_seq >= 0)
);

INSERT INTO counters (id, site_id, snag_number, log_seq) VALUES ('instance', NULL, 0, 0);

CREATE TABLE memberships (
    site_id    TEXT COLLATE "C" NOT NULL REFERENCES sites (id),
    account_id TEXT COLLATE "C" NOT NULL REFERENCES accounts (id),
    role       TEXT COLLATE "C" NOT NULL,
    gang       TEXT COLLATE "C" NOT NULL,
    CONSTRAINT memberships_pkey PRIMARY KEY (site_id, account_id),
    CONSTRAINT memberships_role_check CHECK (role IN
        ('clerk', 'installer', 'operative', 'auditor', 'designer', 'manager', 'owner'))
);

CREATE INDEX memberships_account ON memberships (account_id, site_id);

CREATE TABLE buildings (
    id             TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    site_id        TEXT COLLATE "C" NOT NULL REFERENCES sites (id),
    name           TEXT COLLATE "C" NOT NULL,
    ring           TEXT COLLATE "C" NOT NULL,
    plan           TEXT COLLATE "C" NOT NULL,
    height_mm      BIGINT NOT NULL,
    completed_on   TEXT COLLATE "C" NOT NULL,
    defects_months BIGINT NOT NULL,
    version        BIGINT NOT NULL,
    CONSTRAINT buildings_site_id_id_key UNIQUE (site_id, id),
    CONSTRAINT buildings_site_id_name_key UNIQUE (site_id, name),
    CONSTRAINT buildings_version_check CHECK (version > 0)
);

CREATE TABLE elevations (
    id           TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    site_id      TEXT COLLATE "C" NOT NULL REFERENCES sites (id),
    building_id  TEXT COLLATE "C" NOT NULL,
    name         TEXT COLLATE "C" NOT NULL,
    position     BIGINT NOT NULL,
    edge         BIGINT NOT NULL,
    length_mm    BIGINT NOT NULL,
    height_mm    BIGINT NOT NULL,
    bearing      TEXT COLLATE "C" NOT NULL,
    base_line_mm BIGINT NOT NULL,
    bays         TEXT COLLATE "C" NOT NULL,
    lifts        TEXT COLLATE "C" NOT NULL,
    openings     TEXT COLLATE "C" NOT NULL,
    version      BIGINT NOT NULL,
    CONSTRAINT elevations_site_id_id_key UNIQUE (site_id, id),
    CONSTRAINT elevations_building_id_name_key UNIQUE (building_id, name),
    CONSTRAINT elevations_building_id_fkey FOREIGN KEY (site_id, building_id) REFERENCES buildings (site_id, id),
    CONSTRAINT elevations_version_check CHECK (version > 0)
);

CREATE INDEX elevations_order ON elevations (site_id, building_id, position);

CREATE TABLE milestones (
    id           TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    site_id      TEXT COLLATE "C" NOT NULL REFERENCES sites (id),
    kind         TEXT COLLATE "C" NOT NULL,
    stage        TEXT COLLATE "C" NOT NULL,
    elevation_id TEXT COLLATE "C",
    bay_from     BIGINT NOT NULL,
    bay_to       BIGINT NOT NULL,
    lift_from    BIGINT NOT NULL,
    lift_to      BIGINT NOT NULL,
    due_on       TEXT COLLATE "C" NOT NULL,
    version      BIGINT NOT NULL,
    CONSTRAINT milestones_elevation_id_fkey FOREIGN KEY (site_id, elevation_id) REFERENCES elevations (site_id, id),
    CONSTRAINT milestones_kind_check CHECK (kind IN ('cover-up', 'strike', 'completion')),
    CONSTRAINT milestones_version_check CHECK (version > 0)
);

CREATE INDEX milestones_site ON milestones (site_id, due_on, id);
CREATE INDEX milestones_elevation ON milestones (site_id, elevation_id);

CREATE TABLE instruments (
    id           TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    site_id      TEXT COLLATE "C" NOT NULL REFERENCES sites (id),
    name         TEXT COLLATE "C" NOT NULL,
    kind         TEXT COLLATE "C" NOT NULL,
    serial       TEXT COLLATE "C" NOT NULL,
    resolution   TEXT COLLATE "C",
    unit         TEXT COLLATE "C" NOT NULL,
    expanded     TEXT COLLATE "C",
    calibrations TEXT COLLATE "C" NOT NULL,
    version      BIGINT NOT NULL,
    CONSTRAINT instruments_site_id_id_key UNIQUE (site_id, id),
    CONSTRAINT instruments_site_id_name_key UNIQUE (site_id, name),
    CONSTRAINT instruments_version_check CHECK (version > 0)
);

CREATE TABLE schedules (
    site_id  TEXT COLLATE "C" NOT NULL REFERENCES sites (id),
    name     TEXT COLLATE "C" NOT NULL,
    version  BIGINT NOT NULL,
    document BYTEA NOT NULL,
    added_by TEXT COLLATE "C" NOT NULL,
    added_at BIGINT NOT NULL,
    CONSTRAINT schedules_pkey PRIMARY KEY (site_id, name, version),
    CONSTRAINT schedules_version_check CHECK (version > 0)
);

-- +goose Down
DROP TABLE schedules;
DROP TABLE instruments;
DROP TABLE milestones;
DROP TABLE elevations;
DROP TABLE buildings;
DROP TABLE memberships;
DROP TABLE counters;
DROP TABLE sites;
DROP TABLE keys;
DROP TABLE accounts;

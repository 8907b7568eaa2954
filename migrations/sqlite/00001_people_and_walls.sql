-- People, sites and what stands on them. Instants are microseconds since 1970
-- in UTC, days are 'YYYY-MM-DD', lengths are millimetres, decimals are the
-- exact text somebody wrote. Lists that no query looks into are JSON.
-- A key over (site_id, id) lets a child refer to its parent and the site at
-- once, so that no row can point into another site.

-- +goose Up
CREATE TABLE accounts (
    id            TEXT NOT NULL PRIMARY KEY,
    login         TEXT NOT NULL,
    name          TEXT NOT NULL,
    password_hash TEXT NOT NULL,
    admin         INTEGER NOT NULL,
    disabled      INTEGER NOT NULL,
    created_at    INTEGER NOT NULL,
    version       INTEGER NOT NULL,
    CONSTRAINT accounts_login_key UNIQUE (login),
    CONSTRAINT accounts_admin_check CHECK (admin IN (0, 1)),
    CONSTRAINT accounts_disabled_check CHECK (disabled IN (0, 1)),
    CONSTRAINT accounts_version_check CHECK (version > 0)
) STRICT;

CREATE TABLE keys (
    id         TEXT NOT NULL PRIMARY KEY,
    hash       TEXT NOT NULL,
    account_id TEXT REFERENCES accounts (id),
    kind       TEXT NOT NULL,
    label      TEXT NOT NULL,
    created_at INTEGER NOT NULL,
    expires_at INTEGER NOT NULL,
    last_seen  INTEGER NOT NULL,
    revoked    INTEGER NOT NULL,
    CONSTRAINT keys_hash_key UNIQUE (hash),
    CONSTRAINT keys_kind_check CHECK (kind IN ('session', 'token', 'link')),
    CONSTRAINT keys_revoked_check CHECK (revoked IN (0, 1))
) STRICT;

CREATE INDEX keys_account ON keys (account_id, created_at);
CREATE INDEX keys_expiry ON keys (expires_at);

CREATE TABLE sites (
    id         TEXT NOT NULL PRIMARY KEY,
    name       TEXT NOT NULL,
    time_zone  TEXT NOT NULL,
    demo       INTEGER NOT NULL,
    rule       TEXT NOT NULL,
    guard      TEXT NOT NULL,
    schedules  TEXT NOT NULL,
    fence      TEXT NOT NULL,
    created_at INTEGER NOT NULL,
    version    INTEGER NOT NULL,
    CONSTRAINT sites_name_key UNIQUE (name),
    CONSTRAINT sites_demo_check CHECK (demo IN (0, 1)),
    CONSTRAINT sites_rule_check CHECK (rule IN ('simple', 'guarded', 'four-way')),
    CONSTRAINT sites_version_check CHECK (version > 0)
) STRICT;

-- One row a log: the last entry and, for a site, the last snag number given.
-- 'instance' is the log of what belongs to no site. On PostgreSQL a writer
-- locks the row of the site it works on, so a site has one writer at a time.
CREATE TABLE counters (
    id          TEXT NOT NULL PRIMARY KEY,
    site_id     TEXT REFERENCES sites (id),
    snag_number INTEGER NOT NULL,
    log_seq     INTEGER NOT NULL,
    CONSTRAINT counters_site_id_key UNIQUE (site_id),
    CONSTRAINT counters_id_check CHECK ((site_id IS NULL AND id = 'instance') OR (site_id IS NOT NULL AND site_id = id)),
    CONSTRAINT counters_snag_number_check CHECK (snag_number >= 0),
    CONSTRAINT counters_log_seq_check CHECK (log_seq >= 0)
) STRICT, WITHOUT ROWID;

INSERT INTO counters (id, site_id, snag_number, log_seq) VALUES ('instance', NULL, 0, 0);

CREATE TABLE memberships (
    site_id    TEXT NOT NULL REFERENCES sites (id),
    account_id TEXT NOT NULL REFERENCES accounts (id),
    role       TEXT NOT NULL,
    gang       TEXT NOT NULL,
    CONSTRAINT memberships_pkey PRIMARY KEY (site_id, account_id),
    CONSTRAINT memberships_role_check CHECK (role IN
        ('clerk', 'installer', 'operative', 'auditor', 'designer', 'manager', 'owner'))
) STRICT, WITHOUT ROWID;

CREATE INDEX memberships_account ON memberships (account_id, site_id);

CREATE TABLE buildings (
    id             TEXT NOT NULL PRIMARY KEY,
    site_id        TEXT NOT NULL REFERENCES sites (id),
    name           TEXT NOT NULL,
    ring           TEXT NOT NULL,
    plan           TEXT NOT NULL,
    height_mm      INTEGER NOT NULL,
    completed_on   TEXT NOT NULL,
    defects_months INTEGER NOT NULL,
    version        INTEGER NOT NULL,
    CONSTRAINT buildings_site_id_id_key UNIQUE (site_id, id),
    CONSTRAINT buildings_site_id_name_key UNIQUE (site_id, name),
    CONSTRAINT buildings_version_check CHECK (version > 0)
) STRICT;

CREATE TABLE elevations (
    id           TEXT NOT NULL PRIMARY KEY,
    site_id      TEXT NOT NULL REFERENCES sites (id),
    building_id  TEXT NOT NULL,
    name         TEXT NOT NULL,
    position     INTEGER NOT NULL,
    edge         INTEGER NOT NULL,
    length_mm    INTEGER NOT NULL,
    height_mm    INTEGER NOT NULL,
    bearing      TEXT NOT NULL,
    base_line_mm INTEGER NOT NULL,
    bays         TEXT NOT NULL,
    lifts        TEXT NOT NULL,
    openings     TEXT NOT NULL,
    version      INTEGER NOT NULL,
    CONSTRAINT elevations_site_id_id_key UNIQUE (site_id, id),
    CONSTRAINT elevations_building_id_name_key UNIQUE (building_id, name),
    CONSTRAINT elevations_building_id_fkey FOREIGN KEY (site_id, building_id) REFERENCES buildings (site_id, id),
    CONSTRAINT elevations_version_check CHECK (version > 0)
) STRICT;

CREATE INDEX elevations_order ON elevations (site_id, building_id, position);

CREATE TABLE milestones (
    id           TEXT NOT NULL PRIMARY KEY,
    site_id      TEXT NOT NULL REFERENCES sites (id),
    kind         TEXT NOT NULL,
    stage        TEXT NOT NULL,
    elevation_id TEXT,
    bay_from     INTEGER NOT NULL,
    bay_to       INTEGER NOT NULL,
    lift_from    INTEGER NOT NULL,
    lift_to      INTEGER NOT NULL,
    due_on       TEXT NOT NULL,
    version      INTEGER NOT NULL,
    CONSTRAINT milestones_elevation_id_fkey FOREIGN KEY (site_id, elevation_id) REFERENCES elevations (site_id, id),
    CONSTRAINT milestones_kind_check CHECK (kind IN ('cover-up', 'strike', 'completion')),
    CONSTRAINT milestones_version_check CHECK (version > 0)
) STRICT;

CREATE INDEX milestones_site ON milestones (site_id, due_on, id);
CREATE INDEX milestones_elevation ON milestones (site_id, elevation_id);

CREATE TABLE instruments (
    id           TEXT NOT NULL PRIMARY KEY,
    site_id      TEXT NOT NULL REFERENCES sites (id),
    name         TEXT NOT NULL,
    kind         TEXT NOT NULL,
    serial       TEXT NOT NULL,
    resolution   TEXT,
    unit         TEXT NOT NULL,
    expanded     TEXT,
    calibrations TEXT NOT NULL,
    version      INTEGER NOT NULL,
    CONSTRAINT instruments_site_id_id_key UNIQUE (site_id, id),
    CONSTRAINT instruments_site_id_name_key UNIQUE (site_id, name),
    CONSTRAINT instruments_version_check CHECK (version > 0)
) STRICT;

CREATE TABLE schedules (
    site_id  TEXT NOT NULL REFERENCES sites (id),
    name     TEXT NOT NULL,
    version  INTEGER NOT NULL,
    document BLOB NOT NULL,
    added_by TEXT NOT NULL,
    added_at INTEGER NOT NULL,
    CONSTRAINT schedules_pkey PRIMARY KEY (site_id, name, version),
    CONSTRAINT schedules_version_check CHECK (version > 0)
) STRICT;

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

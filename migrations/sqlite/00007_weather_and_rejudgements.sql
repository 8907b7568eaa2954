-- What a temperature's limit depends on, and decisions to judge readings anew.

-- +goose Up
ALTER TABLE readings ADD COLUMN trend TEXT NOT NULL DEFAULT ''
    CONSTRAINT readings_trend_check CHECK (trend IN ('', 'rising', 'falling', 'steady'));
ALTER TABLE readings ADD COLUMN air_temperature TEXT;
ALTER TABLE readings ADD COLUMN humidity TEXT;

-- A decision is taken once and carried out in parts; place is where the next
-- part begins, in the order of the list of readings. elevation_id, stage and
-- quantity are '' for all. tally: how many readings went from which outcome to
-- which.
CREATE TABLE rejudgements (
    id           TEXT NOT NULL PRIMARY KEY,
    site_id      TEXT NOT NULL REFERENCES sites (id),
    elevation_id TEXT NOT NULL,
    stage        TEXT NOT NULL,
    quantity     TEXT NOT NULL,
    schedules    TEXT NOT NULL,
    rule         TEXT NOT NULL,
    guard        TEXT NOT NULL,
    reason       TEXT NOT NULL,
    by_id        TEXT NOT NULL,
    by_name      TEXT NOT NULL,
    by_role      TEXT NOT NULL,
    device       TEXT NOT NULL,
    decided_at   INTEGER NOT NULL,
    state        TEXT NOT NULL,
    place        TEXT NOT NULL,
    tally        TEXT NOT NULL,
    version      INTEGER NOT NULL,
    CONSTRAINT rejudgements_site_id_id_key UNIQUE (site_id, id),
    CONSTRAINT rejudgements_rule_check CHECK (rule IN ('simple', 'guarded', 'four-way')),
    CONSTRAINT rejudgements_state_check CHECK (state IN ('running', 'done')),
    CONSTRAINT rejudgements_version_check CHECK (version > 0)
) STRICT;

CREATE INDEX rejudgements_newest ON rejudgements (site_id, decided_at, id);
CREATE INDEX rejudgements_running ON rejudgements (decided_at, id) WHERE state = 'running';

-- +goose Down
DROP TABLE rejudgements;
ALTER TABLE readings DROP COLUMN humidity;
ALTER TABLE readings DROP COLUMN air_temperature;
ALTER TABLE readings DROP COLUMN trend;

-- Line and level surveys of elevations, and the weather log of a site.

-- +goose Up
-- offsets: rows from the top down, a line each, cells by commas, in mm as typed.
-- judged: the schedules and rule it was judged by, and the findings that govern.
CREATE TABLE surveys (
    id            TEXT NOT NULL PRIMARY KEY,
    site_id       TEXT NOT NULL REFERENCES sites (id),
    elevation_id  TEXT NOT NULL,
    stage         TEXT NOT NULL,
    grid_columns  INTEGER NOT NULL,
    grid_rows     INTEGER NOT NULL,
    dx_mm         INTEGER NOT NULL,
    dz_mm         INTEGER NOT NULL,
    x_mm          INTEGER NOT NULL,
    z_mm          INTEGER NOT NULL,
    offsets       TEXT NOT NULL,
    longest_mm    INTEGER NOT NULL,
    expanded      TEXT,
    instrument_id TEXT,
    instrument    TEXT NOT NULL,
    measured_at   INTEGER NOT NULL,
    by_id         TEXT NOT NULL,
    by_name       TEXT NOT NULL,
    note          TEXT NOT NULL,
    entered_by    TEXT NOT NULL,
    entered_name  TEXT NOT NULL,
    entered_at    INTEGER NOT NULL,
    withdrawn     TEXT NOT NULL,
    outcome       TEXT NOT NULL,
    judged        TEXT NOT NULL,
    version       INTEGER NOT NULL,
    CONSTRAINT surveys_elevation_id_fkey FOREIGN KEY (site_id, elevation_id) REFERENCES elevations (site_id, id),
    CONSTRAINT surveys_instrument_id_fkey FOREIGN KEY (site_id, instrument_id) REFERENCES instruments (site_id, id),
    CONSTRAINT surveys_site_id_id_key UNIQUE (site_id, id),
    CONSTRAINT surveys_grid_check CHECK (grid_columns > 0 AND grid_rows > 0 AND dx_mm > 0 AND dz_mm > 0),
    CONSTRAINT surveys_outcome_check CHECK (outcome IN ('pass', 'conditional-pass', 'conditional-fail', 'fail', 'none')),
    CONSTRAINT surveys_version_check CHECK (version > 0)
) STRICT;

CREATE INDEX surveys_newest ON surveys (site_id, measured_at, id);

CREATE TABLE weather (
    id            TEXT NOT NULL PRIMARY KEY,
    site_id       TEXT NOT NULL REFERENCES sites (id),
    elevation_id  TEXT,
    at            INTEGER NOT NULL,
    air           TEXT,
    surface       TEXT,
    humidity      TEXT,
    note          TEXT NOT NULL,
    confirmed     INTEGER NOT NULL,
    instrument_id TEXT,
    instrument    TEXT NOT NULL,
    by_id         TEXT NOT NULL,
    by_name       TEXT NOT NULL,
    entered_by    TEXT NOT NULL,
    entered_name  TEXT NOT NULL,
    entered_at    INTEGER NOT NULL,
    withdrawn     TEXT NOT NULL,
    version       INTEGER NOT NULL,
    CONSTRAINT weather_elevation_id_fkey FOREIGN KEY (site_id, elevation_id) REFERENCES elevations (site_id, id),
    CONSTRAINT weather_instrument_id_fkey FOREIGN KEY (site_id, instrument_id) REFERENCES instruments (site_id, id),
    CONSTRAINT weather_site_id_id_key UNIQUE (site_id, id),
    CONSTRAINT weather_some_check CHECK (air IS NOT NULL OR surface IS NOT NULL OR humidity IS NOT NULL),
    CONSTRAINT weather_confirmed_check CHECK (confirmed IN (0, 1)),
    CONSTRAINT weather_version_check CHECK (version > 0)
) STRICT;

CREATE INDEX weather_newest ON weather (site_id, at, id);

-- +goose Down
DROP TABLE weather;
DROP TABLE surveys;

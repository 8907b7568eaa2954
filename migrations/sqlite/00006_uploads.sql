-- Uploads that come piece by piece, and what each site stores.

-- +goose Up
ALTER TABLE sites ADD COLUMN photo_quota INTEGER;

-- photo_bytes: of the site's originals. reserved_bytes: full lengths of its
-- unfinished uploads. Both are kept as rows come and go, so that asking for them
-- costs the same on a large site.
CREATE TABLE storage (
    site_id        TEXT NOT NULL,
    photo_bytes    INTEGER NOT NULL,
    reserved_bytes INTEGER NOT NULL,
    CONSTRAINT storage_pkey PRIMARY KEY (site_id),
    CONSTRAINT storage_site_id_fkey FOREIGN KEY (site_id) REFERENCES sites (id),
    CONSTRAINT storage_photo_bytes_check CHECK (photo_bytes >= 0),
    CONSTRAINT storage_reserved_bytes_check CHECK (reserved_bytes >= 0)
) STRICT, WITHOUT ROWID;

INSERT INTO storage (site_id, photo_bytes, reserved_bytes)
SELECT site_id, SUM(size), 0 FROM photos GROUP BY site_id;

-- received: bytes that are durable; the whole is only noted with the photo.
CREATE TABLE uploads (
    id         TEXT NOT NULL PRIMARY KEY,
    site_id    TEXT NOT NULL REFERENCES sites (id),
    account_id TEXT NOT NULL,
    length     INTEGER NOT NULL,
    received   INTEGER NOT NULL,
    metadata   TEXT NOT NULL,
    input      TEXT NOT NULL,
    state      TEXT NOT NULL,
    photo_id   TEXT,
    created_at INTEGER NOT NULL,
    expires_at INTEGER NOT NULL,
    CONSTRAINT uploads_photo_id_fkey FOREIGN KEY (site_id, photo_id) REFERENCES photos (site_id, id),
    CONSTRAINT uploads_length_check CHECK (length > 0),
    CONSTRAINT uploads_received_check CHECK (received >= 0 AND received <= length),
    CONSTRAINT uploads_state_check CHECK (state IN ('open', 'taken', 'known', 'expired'))
) STRICT;

CREATE INDEX uploads_mine ON uploads (site_id, account_id, created_at, id) WHERE state = 'open';
CREATE INDEX uploads_expiry ON uploads (expires_at, id);

-- +goose Down
DROP TABLE uploads;
DROP TABLE storage;
ALTER TABLE sites DROP COLUMN photo_quota;

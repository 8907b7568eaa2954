-- Uploads that come piece by piece, and what each site stores.

-- +goose Up
ALTER TABLE sites ADD COLUMN photo_quota BIGINT;

-- photo_bytes: of the site's originals. reserved_bytes: full lengths of its
-- unfinished uploads. Both are kept as rows come and go, so that asking for them
-- costs the same on a large site.
CREATE TABLE storage (
    site_id        TEXT COLLATE "C" NOT NULL,
    photo_bytes    BIGINT NOT NULL,
    reserved_bytes BIGINT NOT NULL,
    CONSTRAINT storage_pkey PRIMARY KEY (site_id),
    CONSTRAINT storage_site_id_fkey FOREIGN KEY (site_id) REFERENCES sites (id),
    CONSTRAINT storage_photo_bytes_check CHECK (photo_bytes >= 0),
    CONSTRAINT storage_reserved_bytes_check CHECK (reserved_bytes >= 0)
);

INSERT INTO storage (site_id, photo_bytes, reserved_bytes)
SELECT site_id, SUM(size), 0 FROM photos GROUP BY site_id;

-- received: bytes that are durable; the whole is only noted with the photo.
CREATE TABLE uploads (
    id         TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    site_id    TEXT COLLATE "C" NOT NULL REFERENCES sites (id),
    account_id TEXT COLLATE "C" NOT NULL,
    length     BIGINT NOT NULL,
    received   BIGINT NOT NULL,
    metadata   TEXT COLLATE "C" NOT NULL,
    input      TEXT COLLATE "C" NOT NULL,
    state      TEXT COLLATE "C" NOT NULL,
    photo_id   TEXT COLLATE "C",
    created_at BIGINT NOT NULL,
    expires_at BIGINT NOT NULL,
    CONSTRAINT uploads_photo_id_fkey FOREIGN KEY (site_id, photo_id) REFERENCES photos (site_id, id),
    CONSTRAINT uploads_length_check CHECK (length > 0),
    CONSTRAINT uploads_received_check CHECK (received >= 0 AND received <= length),
    CONSTRAINT uploads_state_check CHECK (state IN ('open', 'taken', 'known', 'expired'))
);

CREATE INDEX uploads_mine ON uploads (site_id, account_id, created_at, id) WHERE state = 'open';
CREATE INDEX uploads_expiry ON uploads (expires_at, id);

-- +goose Down
DROP TABLE uploads;
DROP TABLE storage;
ALTER TABLE sites DROP COLUMN photo_quota;

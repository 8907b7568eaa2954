-- The queue of view copies, and how a change of them is noticed.
-- photos.copies_seq counts up within a site with every change of a photo's view
-- copies, so that whoever remembers the last number he saw learns what is new.
-- photos.likeness is a 64-bit perceptual hash, NULL until it is known.
-- jobs holds one row for each photo with work to do. free_at is when it may
-- be taken: the end of a lease, or of the wait after a fault. holder names the
-- lease, '' for none; turn is small for a sender who has little waiting.

-- +goose Up
ALTER TABLE photos ADD COLUMN likeness INTEGER;
ALTER TABLE photos ADD COLUMN copies_seq INTEGER NOT NULL DEFAULT 0;
ALTER TABLE photos ADD COLUMN copies_at INTEGER NOT NULL DEFAULT 0;

UPDATE photos SET copies_seq = n.seq, copies_at = received_at
    FROM (SELECT id AS photo_id, ROW_NUMBER() OVER (PARTITION BY site_id ORDER BY received_at, id) AS seq FROM photos) AS n
    WHERE id = n.photo_id;

CREATE UNIQUE INDEX photos_copies ON photos (site_id, copies_seq);

CREATE TABLE jobs (
    photo_id  TEXT NOT NULL PRIMARY KEY,
    site_id   TEXT NOT NULL,
    sender    TEXT NOT NULL,
    turn      INTEGER NOT NULL,
    queued_at INTEGER NOT NULL,
    free_at   INTEGER NOT NULL,
    holder    TEXT NOT NULL,
    tries     INTEGER NOT NULL,
    lost      INTEGER NOT NULL,
    fault     TEXT NOT NULL,
    CONSTRAINT jobs_photo_id_fkey FOREIGN KEY (site_id, photo_id) REFERENCES photos (site_id, id),
    CONSTRAINT jobs_turn_check CHECK (turn >= 0),
    CONSTRAINT jobs_tries_check CHECK (tries >= 0),
    CONSTRAINT jobs_lost_check CHECK (lost >= 0)
) STRICT;

CREATE INDEX jobs_next ON jobs (turn, queued_at, photo_id);
CREATE INDEX jobs_sender ON jobs (sender);

INSERT INTO jobs (photo_id, site_id, sender, turn, queued_at, free_at, holder, tries, lost, fault)
    SELECT id, site_id, added_by, 100, received_at, 0, '', 0, 0, '' FROM photos WHERE derived = '' OR derived = 'ready';

DROP INDEX photos_waiting;

-- +goose Down
CREATE INDEX photos_waiting ON photos (received_at, id) WHERE derived = '';
DROP TABLE jobs;
DROP INDEX photos_copies;
ALTER TABLE photos DROP COLUMN copies_at;
ALTER TABLE photos DROP COLUMN copies_seq;
ALTER TABLE photos DROP COLUMN likeness;

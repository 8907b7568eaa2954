-- Courtyards of a footprint; the ring whose
-- edge an elevation is, 0 being the outer one; and why a placed photo is offered
-- anew, empty when it is not.

-- +goose Up
ALTER TABLE buildings ADD COLUMN courts TEXT NOT NULL DEFAULT '';
ALTER TABLE elevations ADD COLUMN court INTEGER NOT NULL DEFAULT 0
    CONSTRAINT elevations_court_check CHECK (court >= 0);
ALTER TABLE photos ADD COLUMN offered TEXT NOT NULL DEFAULT '';
CREATE INDEX photos_offered ON photos (site_id, received_at, id) WHERE offered <> '';

-- +goose Down
DROP INDEX photos_offered;
ALTER TABLE photos DROP COLUMN offered;
ALTER TABLE elevations DROP COLUMN court;
ALTER TABLE buildings DROP COLUMN courts;

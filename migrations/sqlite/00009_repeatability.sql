-- How far single repeats with an instrument spread, and from how many repeats
-- that was found. The factor of a certificate's U is kept beside it.

-- +goose Up
ALTER TABLE instruments ADD COLUMN repeatability TEXT;
ALTER TABLE instruments ADD COLUMN repeats INTEGER NOT NULL DEFAULT 0
    CONSTRAINT instruments_repeats_check CHECK (repeats >= 0);

-- +goose Down
ALTER TABLE instruments DROP COLUMN repeats;
ALTER TABLE instruments DROP COLUMN repeatability;

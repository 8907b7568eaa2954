-- The observations that a reading is the mean of, with spaces between; '' for a
-- reading of one value. verdict_kind is alike for readings whose verdicts differ
-- in nothing but the conformance probability, so that statistics of thousands of
-- readings fetch each kind once; 0 for those stored before.

-- +goose Up
ALTER TABLE readings ADD COLUMN observations TEXT NOT NULL DEFAULT '';
ALTER TABLE readings ADD COLUMN verdict_kind INTEGER NOT NULL DEFAULT 0;

-- +goose Down
ALTER TABLE readings DROP COLUMN verdict_kind;
ALTER TABLE readings DROP COLUMN observations;

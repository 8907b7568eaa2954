-- The observations that a reading is the mean of, with spaces between; '' for a
-- reading of one value. verdict_kind is alike for readings whose verdicts differ
-- in nothing but the conformance probability, so that statistics of thousands of
-- readings fetch each kind once; -1 for those withdrawn, 0 for those stored
-- before. The index holds all that statistics read of a quantity, so that they
-- need not visit the rows. stated is what the designer states for a set, as JSON.

-- +goose Up
ALTER TABLE readings ADD COLUMN observations TEXT NOT NULL DEFAULT '';
ALTER TABLE readings ADD COLUMN verdict_kind BIGINT NOT NULL DEFAULT 0;
ALTER TABLE sets ADD COLUMN stated TEXT NOT NULL DEFAULT '';
DROP INDEX readings_quantity;
CREATE INDEX readings_quantity ON readings (site_id, quantity, measured_at, id) INCLUDE (elevation_id, gang, value, verdict_kind);

-- +goose Down
DROP INDEX readings_quantity;
ALTER TABLE sets DROP COLUMN stated;
CREATE INDEX readings_quantity ON readings (site_id, quantity, measured_at, id);
ALTER TABLE readings DROP COLUMN verdict_kind;
ALTER TABLE readings DROP COLUMN observations;

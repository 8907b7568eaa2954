-- By what photos are put on walls: the chance from which the program does so by
-- itself (NULL = its default), and how the accuracy that photos state is read.

-- +goose Up
ALTER TABLE sites ADD COLUMN face_threshold TEXT;
ALTER TABLE sites ADD COLUMN accuracy TEXT NOT NULL DEFAULT ''
    CONSTRAINT sites_accuracy_check CHECK (accuracy IN ('', '68', '95'));

-- +goose Down
ALTER TABLE sites DROP COLUMN accuracy;
ALTER TABLE sites DROP COLUMN face_threshold;

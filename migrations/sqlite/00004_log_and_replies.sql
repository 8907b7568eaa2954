-- The append-only log and the remembered answers to idempotent requests.

-- +goose Up
CREATE TABLE log (
    site_id        TEXT NOT NULL REFERENCES counters (id),
    seq            INTEGER NOT NULL,
    at             INTEGER NOT NULL,
    kind           TEXT NOT NULL,
    subject_type   TEXT NOT NULL,
    subject_id     TEXT NOT NULL,
    subject_number INTEGER NOT NULL,
    actor_id       TEXT NOT NULL,
    entry          BLOB NOT NULL,
    CONSTRAINT log_pkey PRIMARY KEY (site_id, seq)
) STRICT;

CREATE INDEX log_subject ON log (site_id, subject_type, subject_id, seq);

-- +goose StatementBegin
CREATE TRIGGER log_in_order BEFORE INSERT ON log
WHEN NEW.seq <> 1 + COALESCE((SELECT MAX(seq) FROM log WHERE site_id = NEW.site_id), 0)
BEGIN
    SELECT RAISE(ABORT, 'the log takes entries in order and without gaps');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER log_no_update BEFORE UPDATE ON log
BEGIN
    SELECT RAISE(ABORT, 'the log is append-only');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER log_no_delete BEFORE DELETE ON log
BEGIN
    SELECT RAISE(ABORT, 'the log is append-only');
END;
-- +goose StatementEnd

CREATE TABLE replies (
    account_id   TEXT NOT NULL REFERENCES accounts (id),
    key          TEXT NOT NULL,
    fingerprint  TEXT NOT NULL,
    status       INTEGER NOT NULL,
    content_type TEXT NOT NULL,
    location     TEXT NOT NULL,
    etag         TEXT NOT NULL,
    body         BLOB NOT NULL,
    at           INTEGER NOT NULL,
    CONSTRAINT replies_pkey PRIMARY KEY (account_id, key)
) STRICT;

CREATE INDEX replies_at ON replies (at);

-- +goose Down
DROP TABLE replies;
DROP TABLE log;

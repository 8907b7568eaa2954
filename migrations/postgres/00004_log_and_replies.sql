-- The append-only log and the remembered answers to idempotent requests.

-- +goose Up
CREATE TABLE log (
    site_id        TEXT COLLATE "C" NOT NULL REFERENCES counters (id),
    seq            BIGINT NOT NULL,
    at             BIGINT NOT NULL,
    kind           TEXT COLLATE "C" NOT NULL,
    subject_type   TEXT COLLATE "C" NOT NULL,
    subject_id     TEXT COLLATE "C" NOT NULL,
    subject_number BIGINT NOT NULL,
    actor_id       TEXT COLLATE "C" NOT NULL,
    entry          BYTEA NOT NULL,
    CONSTRAINT log_pkey PRIMARY KEY (site_id, seq)
);

CREATE INDEX log_subject ON log (site_id, subject_type, subject_id, seq);

-- +goose StatementBegin
CREATE FUNCTION log_in_order() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NEW.seq <> 1 + COALESCE((SELECT MAX(seq) FROM log WHERE site_id = NEW.site_id), 0) THEN
        RAISE EXCEPTION 'the log takes entries in order and without gaps';
    END IF;
    RETURN NEW;
END $$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION log_append_only() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'the log is append-only';
END $$;
-- +goose StatementEnd

CREATE TRIGGER log_in_order BEFORE INSERT ON log FOR EACH ROW EXECUTE FUNCTION log_in_order();
CREATE TRIGGER log_no_update BEFORE UPDATE ON log FOR EACH STATEMENT EXECUTE FUNCTION log_append_only();
CREATE TRIGGER log_no_delete BEFORE DELETE ON log FOR EACH STATEMENT EXECUTE FUNCTION log_append_only();
CREATE TRIGGER log_no_truncate BEFORE TRUNCATE ON log FOR EACH STATEMENT EXECUTE FUNCTION log_append_only();

CREATE TABLE replies (
    account_id   TEXT COLLATE "C" NOT NULL REFERENCES accounts (id),
    key          TEXT COLLATE "C" NOT NULL,
    fingerprint  TEXT COLLATE "C" NOT NULL,
    status       BIGINT NOT NULL,
    content_type TEXT COLLATE "C" NOT NULL,
    location     TEXT COLLATE "C" NOT NULL,
    etag         TEXT COLLATE "C" NOT NULL,
    body         BYTEA NOT NULL,
    at           BIGINT NOT NULL,
    CONSTRAINT replies_pkey PRIMARY KEY (account_id, key)
);

CREATE INDEX replies_at ON replies (at);

-- +goose Down
DROP TABLE replies;
DROP TABLE log;
DROP FUNCTION log_append_only;
DROP FUNCTION log_in_order;

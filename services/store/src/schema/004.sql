-- Answers to changes that were asked for with an idempotency key, so that a repeat gets the same answer and changes nothing.

CREATE TABLE answers (
    key         BLOB    PRIMARY KEY,   -- SHA-256 of who asks and of the key
    fingerprint BLOB    NOT NULL,      -- SHA-256 of the request
    at          INTEGER NOT NULL,      -- when it was done
    status      INTEGER NOT NULL,      -- of HTTP
    kind        TEXT,                  -- content type
    location    TEXT,
    body        TEXT    NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX answers_by_age ON answers (at);

-- Times are milliseconds since 1970 (UTC). STRICT, so that a value of the wrong kind is an error and not a surprise.

CREATE TABLE probes (
    id  INTEGER PRIMARY KEY,
    key TEXT NOT NULL UNIQUE            -- vessel/quantity or vessel/quantity/mark
) STRICT;

CREATE TABLE readings (
    probe    INTEGER NOT NULL,          -- probes.id
    time     INTEGER NOT NULL,          -- measured
    value    REAL    NOT NULL,          -- base unit of the quantity
    lag      INTEGER NOT NULL,          -- received minus time, ms: shorter than the time itself
    sequence INTEGER,                   -- the device's count, the 64 bits of it
    fresh    INTEGER NOT NULL,          -- 1 if it told the present when it arrived
    flags    INTEGER NOT NULL,          -- remarks of the judge
    PRIMARY KEY (probe, time)
) STRICT, WITHOUT ROWID;

CREATE TABLE refusals (
    place   TEXT    NOT NULL,
    reason  TEXT    NOT NULL,
    count   INTEGER NOT NULL,
    first   INTEGER NOT NULL,
    last    INTEGER NOT NULL,
    excerpt TEXT    NOT NULL,           -- of the latest
    PRIMARY KEY (place, reason)
) STRICT, WITHOUT ROWID;

CREATE TABLE entries (
    id       INTEGER PRIMARY KEY,
    recorded INTEGER NOT NULL,
    author   TEXT    NOT NULL,
    json     TEXT    NOT NULL
) STRICT;
-- A correction is a new entry; an old one is never touched, by whatever program.
CREATE TRIGGER entries_stand BEFORE UPDATE ON entries BEGIN
    SELECT RAISE(ABORT, 'an entry of the account is never changed');
END;
CREATE TRIGGER entries_stay BEFORE DELETE ON entries BEGIN
    SELECT RAISE(ABORT, 'an entry of the account is never deleted');
END;

CREATE TABLE alarm_log (
    id       INTEGER PRIMARY KEY,
    key      TEXT    NOT NULL,
    at       INTEGER NOT NULL,
    was      TEXT    NOT NULL,          -- state before
    became   TEXT    NOT NULL,          -- state after
    text     TEXT    NOT NULL
) STRICT;
CREATE INDEX alarm_log_at ON alarm_log (at);

CREATE TABLE alarm_states (
    key  TEXT NOT NULL PRIMARY KEY,
    json TEXT NOT NULL
) STRICT;

CREATE TABLE projections (
    clutch TEXT    NOT NULL PRIMARY KEY,
    at     INTEGER NOT NULL,
    json   TEXT    NOT NULL
) STRICT;

CREATE TABLE shifts (
    id           INTEGER PRIMARY KEY,
    clutch       TEXT    NOT NULL,
    at           INTEGER NOT NULL,
    stage        TEXT    NOT NULL,
    was          INTEGER,               -- projected before; NULL for the first projection
    became       INTEGER NOT NULL,      -- projected now
    cause        TEXT    NOT NULL
) STRICT;
CREATE INDEX shifts_of ON shifts (clutch);

CREATE TABLE outbox (
    number   INTEGER PRIMARY KEY,
    id       TEXT    NOT NULL UNIQUE,
    way      TEXT    NOT NULL,
    created  INTEGER NOT NULL,
    next_try INTEGER,                   -- NULL: done with
    body     TEXT    NOT NULL,          -- empty once delivered
    tries    INTEGER NOT NULL DEFAULT 0,
    error    TEXT,                      -- of the last try
    ended    INTEGER,                   -- when it was delivered or given up
    arrived  INTEGER NOT NULL DEFAULT 0
) STRICT;
CREATE INDEX outbox_due ON outbox (next_try) WHERE next_try IS NOT NULL;

CREATE TABLE notes (
    name  TEXT NOT NULL PRIMARY KEY,
    value TEXT NOT NULL
) STRICT, WITHOUT ROWID;

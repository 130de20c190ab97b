-- Who may do what, and who did what. Passwords, session ids and tokens are kept as hashes only.

CREATE TABLE people (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,   -- never given twice, so that an old address means nobody else
    key      TEXT    NOT NULL UNIQUE,             -- the name in small letters: Ada and ada are one
    name     TEXT    NOT NULL,
    role     TEXT    NOT NULL,
    password TEXT    NOT NULL,                    -- PHC string
    since    INTEGER NOT NULL,
    changed  INTEGER NOT NULL                     -- when the password was set
) STRICT;

CREATE TABLE sessions (
    id      INTEGER PRIMARY KEY AUTOINCREMENT,
    hash    BLOB    NOT NULL UNIQUE,              -- SHA-256 of what the browser holds
    person  INTEGER NOT NULL,
    since   INTEGER NOT NULL,
    seen    INTEGER NOT NULL,                     -- last used, to a few minutes
    address TEXT    NOT NULL,
    agent   TEXT    NOT NULL
) STRICT;
CREATE INDEX sessions_of ON sessions (person);

CREATE TABLE tokens (
    id     INTEGER PRIMARY KEY AUTOINCREMENT,
    hash   BLOB    NOT NULL UNIQUE,               -- SHA-256 of what the program holds
    name   TEXT    NOT NULL,
    scope  TEXT    NOT NULL,
    person INTEGER,                               -- who made it; NULL at the machine itself
    since  INTEGER NOT NULL,
    used   INTEGER                                -- last used, to an hour
) STRICT;

CREATE TABLE audit (
    id      INTEGER PRIMARY KEY,
    at      INTEGER NOT NULL,
    who     TEXT    NOT NULL,
    how     TEXT    NOT NULL,                     -- session, token, link, machine
    address TEXT    NOT NULL,
    what    TEXT    NOT NULL,
    place   TEXT    NOT NULL
) STRICT;
CREATE TRIGGER audit_stands BEFORE UPDATE ON audit BEGIN
    SELECT RAISE(ABORT, 'a line of the audit log is never changed');
END;
CREATE TRIGGER audit_stays BEFORE DELETE ON audit BEGIN
    SELECT RAISE(ABORT, 'a line of the audit log is never deleted');
END;

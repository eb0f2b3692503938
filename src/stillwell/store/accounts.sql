-- Who may look in, by which door they came, and what they did. Times are milliseconds UTC.

CREATE TABLE IF NOT EXISTS account (
    name TEXT NOT NULL PRIMARY KEY,
    role TEXT NOT NULL,
    person TEXT NOT NULL,
    hash TEXT NOT NULL,
    made_ms INTEGER NOT NULL
) STRICT;

CREATE TABLE IF NOT EXISTS session (
    key TEXT NOT NULL PRIMARY KEY,
    account TEXT NOT NULL REFERENCES account (name) ON DELETE CASCADE,
    begun_ms INTEGER NOT NULL,
    seen_ms INTEGER NOT NULL,
    ends_ms INTEGER NOT NULL,
    address TEXT NOT NULL
) STRICT;

CREATE TABLE IF NOT EXISTS invitation (
    key TEXT NOT NULL PRIMARY KEY,
    role TEXT NOT NULL,
    name TEXT NOT NULL,
    person TEXT NOT NULL,
    by_whom TEXT NOT NULL,
    ends_ms INTEGER NOT NULL
) STRICT;

CREATE TABLE IF NOT EXISTS trace (
    number INTEGER NOT NULL PRIMARY KEY,
    at_ms INTEGER NOT NULL,
    who TEXT NOT NULL,
    what TEXT NOT NULL,
    subject TEXT NOT NULL,
    address TEXT NOT NULL
) STRICT;
CREATE INDEX IF NOT EXISTS trace_by_time ON trace (at_ms);

CREATE TABLE IF NOT EXISTS secret (
    name TEXT NOT NULL PRIMARY KEY,
    value TEXT NOT NULL
) STRICT;

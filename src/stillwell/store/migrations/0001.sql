-- Numbers are whole, 64 bits wide; times are milliseconds UTC. Yes and no are 1 and 0.

CREATE TABLE event (
    seq INTEGER NOT NULL PRIMARY KEY,
    at_ms INTEGER NOT NULL,
    stamped_ms INTEGER,
    signal TEXT NOT NULL,
    value REAL,
    source TEXT,
    source_seq INTEGER,
    late INTEGER NOT NULL
) STRICT;
CREATE INDEX event_by_time ON event (at_ms);
CREATE INDEX event_by_source ON event (source, source_seq) WHERE source IS NOT NULL;

CREATE TABLE plan (
    fingerprint TEXT NOT NULL PRIMARY KEY,
    text TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    by_whom TEXT NOT NULL
) STRICT;

CREATE TABLE state (
    one INTEGER NOT NULL PRIMARY KEY CHECK (one = 1),
    taken_seq INTEGER NOT NULL,
    decided_ms INTEGER NOT NULL,
    plan TEXT NOT NULL,
    snapshot TEXT NOT NULL
) STRICT;

CREATE TABLE fact (
    number INTEGER NOT NULL PRIMARY KEY,
    at_ms INTEGER NOT NULL,
    what TEXT NOT NULL,
    subject TEXT NOT NULL,
    by_whom TEXT NOT NULL,
    why TEXT NOT NULL
) STRICT;
CREATE INDEX fact_by_time ON fact (at_ms);

CREATE TABLE outbox (
    key TEXT NOT NULL PRIMARY KEY,
    alarm TEXT NOT NULL,
    person TEXT NOT NULL,
    channel TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    asked_at_ms INTEGER NOT NULL,
    raised_at_ms INTEGER NOT NULL,
    drill INTEGER NOT NULL,
    attempts INTEGER NOT NULL,
    next_try_ms INTEGER NOT NULL,
    sent_ms INTEGER,
    ended_ms INTEGER,
    why TEXT NOT NULL
) STRICT;
CREATE INDEX outbox_open ON outbox (at_ms) WHERE ended_ms IS NULL;
CREATE INDEX outbox_by_time ON outbox (at_ms);

CREATE TABLE command (
    key TEXT NOT NULL PRIMARY KEY,
    part TEXT NOT NULL,
    switch_on INTEGER NOT NULL,
    at_ms INTEGER NOT NULL,
    attempts INTEGER NOT NULL,
    next_try_ms INTEGER NOT NULL,
    sent_ms INTEGER,
    confirmed_ms INTEGER,
    ended_ms INTEGER,
    why TEXT NOT NULL
) STRICT;
CREATE INDEX command_open ON command (at_ms) WHERE ended_ms IS NULL;
CREATE INDEX command_by_time ON command (at_ms);

CREATE TABLE answer (
    token TEXT NOT NULL PRIMARY KEY,
    alarm TEXT NOT NULL,
    by_whom TEXT NOT NULL,
    word TEXT NOT NULL,
    at_ms INTEGER NOT NULL
) STRICT;

CREATE TABLE unread (
    reason TEXT NOT NULL,
    source TEXT NOT NULL,
    times INTEGER NOT NULL,
    first_ms INTEGER NOT NULL,
    last_ms INTEGER NOT NULL,
    PRIMARY KEY (reason, source)
) STRICT;

CREATE TABLE counter (
    name TEXT NOT NULL PRIMARY KEY,
    number INTEGER NOT NULL
) STRICT;

-- Who may write: the watch that opened the store last. Another that was cut off meanwhile finds out by this.

CREATE TABLE owner (
    one INTEGER NOT NULL PRIMARY KEY CHECK (one = 1),
    times INTEGER NOT NULL
) STRICT;

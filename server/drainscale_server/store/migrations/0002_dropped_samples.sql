-- Jobs whose samples are dropped, or about to be: written before the first of them goes.
CREATE TABLE dropped (
    job         INTEGER PRIMARY KEY REFERENCES job (place),
    at_s        REAL NOT NULL,                    -- s since 1970 UTC, the server's clock
    is_finished INTEGER NOT NULL DEFAULT 0,       -- 0: some of them are still there
    kept        BLOB NOT NULL                     -- what the record needs of them
);

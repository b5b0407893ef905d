-- Benches, and each start of a bench's agent: within one, messages are counted from 1.
CREATE TABLE bench (
    place       INTEGER PRIMARY KEY,
    site        TEXT NOT NULL,
    bench       TEXT NOT NULL,
    status      BLOB,                             -- the last one, as it came
    last_seen_s REAL,                             -- s since 1970 UTC, the server's clock
    UNIQUE (site, bench)
);
CREATE TABLE boot (
    place        INTEGER PRIMARY KEY,             -- in the order in which they were heard of
    bench        INTEGER NOT NULL REFERENCES bench (place),
    boot         TEXT NOT NULL,
    through      INTEGER NOT NULL DEFAULT 0,      -- acknowledged: up to here all is accounted for
    lost_n       INTEGER NOT NULL DEFAULT 0,      -- numbers up to there that can never come
    first_seen_s REAL NOT NULL,
    UNIQUE (bench, boot)
);

CREATE TABLE job (
    place        INTEGER PRIMARY KEY,             -- in the order in which they were heard of
    job          TEXT NOT NULL UNIQUE,            -- unique in this server
    bench        INTEGER NOT NULL REFERENCES bench (place),
    kit_job      TEXT NOT NULL,                   -- what the bench calls it
    state        TEXT NOT NULL
                 CHECK (state IN ('planned', 'open', 'done', 'aborted', 'taken-back')),
    label        TEXT NOT NULL DEFAULT '',
    base_time_s  REAL,                            -- t = 0, s since 1970 UTC, the kit's clock
    is_clock_set INTEGER,                         -- 0: that clock had not been set
    kit_version  TEXT,
    spec         BLOB,                            -- quantities.job.Job as JSON
    ordered      BLOB,                            -- messages.telegrams.JobOrder as JSON
    ordered_s    REAL,
    opened_s     REAL,
    closed_s     REAL,
    UNIQUE (bench, kit_job)
);
CREATE INDEX job_of_bench ON job (bench, place);

-- Messages as they came. A WITHOUT ROWID table would put the payloads into the key's tree.
CREATE TABLE message (
    boot       INTEGER NOT NULL REFERENCES boot (place),
    seq        INTEGER NOT NULL,
    job        INTEGER REFERENCES job (place),
    leaf       TEXT NOT NULL,
    t_first    REAL,                              -- of what is in it, s after the job's base time
    t_last     REAL,
    received_s REAL NOT NULL,
    crc32      INTEGER NOT NULL,                  -- of the payload: SQLite would not see it rot
    payload    BLOB NOT NULL,
    PRIMARY KEY (boot, seq)
);
CREATE INDEX message_of_job ON message (job, boot, seq) WHERE job IS NOT NULL;

-- What could not be read. With a number it counts as received; without, as nothing.
CREATE TABLE quarantine (
    place      INTEGER PRIMARY KEY AUTOINCREMENT,
    received_s REAL NOT NULL,
    kind       TEXT NOT NULL,
    reason     TEXT NOT NULL,
    topic      TEXT NOT NULL,
    boot       INTEGER REFERENCES boot (place),
    seq        INTEGER,
    size       INTEGER NOT NULL,                  -- bytes that came; more than is kept, if too many
    repeats_n  INTEGER NOT NULL DEFAULT 0,
    digest     BLOB NOT NULL,                     -- SHA-256 of topic and payload
    payload    BLOB NOT NULL,
    UNIQUE (digest)
);
CREATE INDEX quarantined_number ON quarantine (boot, seq) WHERE seq IS NOT NULL;

-- Made from the bodies of messages; could be made again from them.
CREATE TABLE event (
    job    INTEGER NOT NULL REFERENCES job (place),
    t      REAL NOT NULL,
    event  TEXT NOT NULL,
    step   TEXT NOT NULL,
    sensor TEXT,
    boot   INTEGER NOT NULL,
    seq    INTEGER NOT NULL,
    PRIMARY KEY (boot, seq)
);
CREATE INDEX event_of_job ON event (job, t);
CREATE TABLE cue (
    job    INTEGER NOT NULL REFERENCES job (place),
    t      REAL NOT NULL,
    cue    TEXT NOT NULL,
    reason TEXT NOT NULL,
    step   TEXT NOT NULL,
    boot   INTEGER NOT NULL,
    seq    INTEGER NOT NULL,
    PRIMARY KEY (boot, seq)
);
CREATE INDEX cue_of_job ON cue (job, t);
CREATE TABLE note (
    job    INTEGER NOT NULL REFERENCES job (place),
    t      REAL NOT NULL,
    key    TEXT NOT NULL,
    teller TEXT NOT NULL,
    text   TEXT NOT NULL,
    boot   INTEGER NOT NULL,
    seq    INTEGER NOT NULL,
    PRIMARY KEY (boot, seq)
);
CREATE INDEX note_of_job ON note (job, t);
CREATE TABLE fault (
    job        INTEGER REFERENCES job (place),    -- NULL: outside of a job
    t          REAL,
    code       TEXT NOT NULL,
    text       TEXT NOT NULL,
    received_s REAL NOT NULL,
    boot       INTEGER NOT NULL REFERENCES boot (place),
    seq        INTEGER NOT NULL,
    PRIMARY KEY (boot, seq)
);
CREATE INDEX fault_of_job ON fault (job, t);
CREATE TABLE result (                             -- the latest and the final one of each job
    job      INTEGER NOT NULL REFERENCES job (place),
    is_final INTEGER NOT NULL,
    t        REAL NOT NULL,
    result   BLOB NOT NULL,                       -- JSON
    boot     INTEGER NOT NULL,
    seq      INTEGER NOT NULL,
    PRIMARY KEY (job, is_final)
);

-- What people add. Nothing is changed or deleted: the latest value of a key counts.
CREATE TABLE record_entry (
    place  INTEGER PRIMARY KEY AUTOINCREMENT,
    job    INTEGER NOT NULL REFERENCES job (place),
    key    TEXT NOT NULL,
    value  BLOB NOT NULL,                         -- JSON
    teller TEXT NOT NULL,
    at_s   REAL NOT NULL                          -- s since 1970 UTC, the server's clock
);
CREATE INDEX entries_of_job ON record_entry (job, place);

CREATE TABLE counter (
    name TEXT PRIMARY KEY,
    n    INTEGER NOT NULL
);

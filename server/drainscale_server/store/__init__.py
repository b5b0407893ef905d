"""Everything that the shop keeps, in one SQLite file; the only room with SQL.

    store.py       the facade: what the other rooms call
    rows.py        what they get: one frozen record per kind of row
    writing.py     one transaction of the ingest: messages, and the rows made from their bodies
    jobs.py        a job's row: planned, begun, over; its number unique in the server
    dropping.py    samples of old jobs, dropped bit by bit; the room they took, given back
    quarantine.py  what could not be read, kept with the reason
    queries.py     the questions of the readers
    lending.py     connections for readers, lent and given back
    file.py        the file: opened, checked, brought up to date, set aside if damaged
    migrations/    the schema, one numbered file per step

Why it is built so: ``docs/explanations/server.md``.
"""

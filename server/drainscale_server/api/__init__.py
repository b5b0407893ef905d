"""The JSON routes, all under ``/api/v1``, and what stands before them.

shop.py          what the routes work with
guards.py        before every route: host, origin, password, body's length; headers after it
heads.py         HEAD wherever GET is taken
patience.py      how long a connection may keep the server waiting
pieces.py        long answers in small pieces, so that one sees whether they flow
door.py          who may come in: by session or by password   sessions.py  the sessions
entry.py         log-in and log-out
problems.py      every error as a problem document (RFC 9457)
documents.py     answers and bodies as typed records, and their schemas in the OpenAPI document
cursors.py       where a next page begins, opaque
benches.py       benches, commands, the live feed
jobs.py          jobs: listed, ordered, looked at, taken back
told.py          what a job told: steps, events, cues, notes, faults, result, forecasts
samples.py       samples for plots            downsample.py  none of their spikes lost (pure)
exports.py       a job's recording and job file
record_data.py   what people put on the record
procedure.py     cautions and gates as data
health.py        whether it lives, whether it is ready; the quarantine
"""

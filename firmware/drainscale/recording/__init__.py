"""Recordings and job files: what is kept of a service, read and written.

    senml.py       read a recording                     job_file.py    read a job file
    writer.py      write one, line by line              job_rules.py   what a job file may hold
    toml_rules.py  bounds of a TOML key                 ruled_toml.py  hold a document against them
    records.py     the two shapes: raw record, Recording  order_file.py  its ordered part
    inflate.py     plain or gzip, told by content
    parse.py       JSON to records; mends a torn tail
    locate.py      finds the line of a fault
    resolve.py     base fields, as RFC 8428 says
    decode.py      records to typed samples

Imports no core, so that the server may use it.
"""

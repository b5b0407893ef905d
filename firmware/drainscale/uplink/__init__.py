"""What a bench measured, kept on disk until the server has it.

    batches.py        pure: what goes into one commit
    spool_file.py     the SQLite file: opened, checked, set aside if damaged
    spool_queries.py  its longer questions to SQLite
    spool.py          messages and jobs in it: append, read back, acknowledge, forget
    writer.py         one thread between the measuring and the disk
    session.py        pure: what to send, to send again, to drop
    commands.py       pure: which command from the board counts
    broker.py         where the broker is, and what is refused as unsafe
    link.py           one connection to it: the last will, what is unconfirmed
    mqtt.py           one thread between spool and broker

Nothing here but ``link`` and ``mqtt`` needs the package paho-mqtt. Why it is built so:
``docs/explanations/uplink.md``.
"""

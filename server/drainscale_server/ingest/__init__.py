"""What the benches send, into the store; acknowledged once it is on the disk.

    reading.py     pure: what a message is, or what is wrong with it
    session.py     pure: which numbers of a bench are accounted for, and which can never come
    keeping.py     a batch of messages into the store, in one transaction
    connection.py  one connection to the broker
    intake.py      one thread between broker and store
    listeners.py   who is told afterwards
    rereading.py   what is in quarantine, read again by a newer server

Why it is built so: ``docs/explanations/server.md``.
"""

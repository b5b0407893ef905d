"""What goes over the wire, both ways: topics, typed records, and their bytes. Pure.

topics.py      which bench, which topic, and how each is to be sent
records.py     numbered records, upward: each has bench, boot and sequence number
telegrams.py   what has no number: status, live figures, commands and their answers
packs.py       samples as a SenML pack (RFC 8428)
codec.py       any of them to bytes and back, checked
addresses.py   which hosts may go without credentials and TLS
"""

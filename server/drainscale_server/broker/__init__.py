"""The broker inside the server, and who may come in.

passwords.py       scrypt hashes of generated passwords
credentials.py     the file of them: one a bench, one for the pages; enrolled, revoked
rights.py          who may say and hear what (pure)
amqtt_package.py   the package's broker, made to ask who it is before it touches anything
embedded.py        it runs in a thread of its own
"""

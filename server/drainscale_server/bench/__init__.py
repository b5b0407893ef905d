"""How many messages a second get from a broker into the store, acknowledged: ``make bench``.

command.py    the rounds and the table
worker.py     the receiving process: the intake, the plain way, or broker and intake in one
publisher.py  the sending process
runs.py       starts them, and reads their times
"""

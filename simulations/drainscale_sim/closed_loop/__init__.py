"""The whole of it in one loop: world, technician, board, drivers and agent, act upon each other.

`orders.py` makes bench file and order of a scenario; `service.py` runs one service in this
process; `agent.py` is the agent as a process of its own, `processes.py` starts, kills and sets
back; `brokers.py` starts real brokers and a server that stores; `export.py` makes a recording of
what the spool holds; `judging.py` holds the answer against what truly happened.
"""

"""Services in closed loop, many and under blows, and what became of them; the command `soak`.

`services.py` and `replays.py` run and replay them, `kills.py` kills the agent, `outage.py` takes
the broker away; each is told as tables and claims. `parts.py` says what runs in which order,
`work.py` in processes, `summary.py` what holds.
"""

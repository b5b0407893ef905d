"""The bay that the kit is tried in: physics, platforms, sensors, and what people do there.

`fluid`, `outflow`, `stream`, `heat` and `vehicle` are the physics, `platform` and `sensors` what
the bench sees of it, `bay` all of it together and `hands` what can be done with it. `ledger` keeps
what truly happened; `setup` is one run with every number drawn.
"""

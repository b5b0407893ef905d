"""The world that the kit is tried in: its physics, its sensors, its clock.

`fluid`, `outflow`, `stream`, `heat` and `vehicle` are the physics, `platform` and `sensors` what
the bench sees of it, `bay` all of it with what hands can do, `ledger` and `truth` what truly
happened. `world.World` joins them and keeps to `drainscale_sim.bench_world.BenchWorld`; `server`
and `client` put it in a process of its own.
"""

"""The bay and the technician on one clock: the world that the kit is tried in.

`world.World` keeps to `drainscale_sim.bench_world.BenchWorld`; `truth` writes what truly happened;
`server` and `client` put the world in a process of its own, `wire` is what passes between them.
"""

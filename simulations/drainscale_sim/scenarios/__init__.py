"""Runs as data: vehicles, fluids, benches and people that the kit is tried on.

`draw.py` makes one run from a file and a seed. The files are `NAME.toml`; `base.toml` holds what
they do not say. All makes are invented.
"""

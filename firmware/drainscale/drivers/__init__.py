"""Drivers of the bench's devices: thin modules, pins and timing.

What the bytes on the wires mean is in ``frames``; what the agent sees is in ``drainscale.ports``.
Hardware libraries are imported where a port is opened, so that the rest runs off the Pi too.
"""

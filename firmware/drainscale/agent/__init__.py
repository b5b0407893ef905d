"""Wires the rooms together into the bench's program; the only room that reads clock and config."""

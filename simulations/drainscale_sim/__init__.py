"""Simulation, scoring and demo: what judges and shows the kit away from the bench."""

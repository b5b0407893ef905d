"""Samples in, estimates with their uncertainty out. No I/O, no clock."""

"""Plays a recording through the measuring core."""

"""What the technician is led through: steps, gates, cautions and the cue that is due.

The procedure is data: one table says what may follow what, and everything that moves a step is in
``machine.py``. Nothing here knows a sensor, a clock or a screen.
"""

"""The person in the bay: sees lamps, hears the sounder, works with hands and foot.

`perception.py` reads cues out of lamps; `guides.py` says what he goes by, the kit's cues or his
own habit; `technician.py` is what he does, one state after the other.
"""

"""The kit's self-test: is every wire, sensor, lamp and store of the bench as it has to be?

``findings`` is what it says; ``scale_data`` and ``scale`` judge a load cell, ``thermocouple`` the
clamp, ``people`` what only a person can see or press, ``house`` spool, broker and clock;
``selftest`` does all of it in order.
"""

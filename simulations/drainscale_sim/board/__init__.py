"""The simulated board: the Pi's own packages run on it unchanged.

``board`` puts it together; ``clock`` is the one clock of a simulated run; ``lines`` are the pins,
``lgpio_stand_in`` and ``spidev_stand_in`` the modules that the packages find in place of the
system's; ``hx711_chip``, ``max31850_chip``, ``one_wire_tree`` and ``foot_switch`` hang on the pins.
"""

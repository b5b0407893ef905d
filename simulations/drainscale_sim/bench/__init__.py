"""How long the measuring core takes, and how much memory: ``make bench``."""

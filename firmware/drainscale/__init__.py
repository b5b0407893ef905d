"""The bench kit: weighs, times and cues a fluid service of a sealed transmission."""

__version__ = "0.1.0"

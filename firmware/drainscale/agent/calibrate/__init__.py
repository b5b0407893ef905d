"""The calibration of a scale with weights; the command ``calibrate``."""

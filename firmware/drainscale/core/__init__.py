"""Joins estimation and procedure: samples in; events, estimates and results out."""

from drainscale.core.events import Event
from drainscale.core.live import Live
from drainscale.core.result import Result
from drainscale.core.service import Service

__all__ = ["Event", "Live", "Result", "Service"]

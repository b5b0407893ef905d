"""Where the system keeps the bench's devices; a simulated board brings its own places."""

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class BoardPaths:
    """The folders that the drivers look into."""

    devices: Path = Path("/dev")
    one_wire: Path = Path("/sys/bus/w1/devices")
    iio: Path = Path("/sys/bus/iio/devices")
    # written by the system's time service once the wall clock was set
    time_is_set: Path = Path("/run/systemd/timesync/synchronized")

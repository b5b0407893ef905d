"""Every error that drainscale raises on purpose, by whose fault it is.

    DrainscaleError
    ├── InputError           a file or value that somebody handed in is wrong
    │   ├── RecordingError   (also a ValueError)
    │   ├── BenchFileError   (also a ValueError)
    │   ├── JobError         (also a ValueError)
    │   ├── ServerFileError  (also a ValueError)
    │   └── MessageError     (also a ValueError)
    ├── QuantityError        a number outside what the formula is made for (also a ValueError)
    ├── ProcedureError       an event that the procedure's table does not know here
    ├── SpoolError           the spool on disk cannot be used
    ├── StoreError           the server's store cannot be used, or not in this way
    ├── ServerError          the shop's server cannot start, or not go on
    └── SensorError          a part of the bench cannot be used, or said something impossible
        ├── SensorMissingError   it is not there
        ├── SensorRefusedError   it is there, but read this way it would lie
        └── FrameError           what came over its wires is no valid frame (also a ValueError)

Our own bugs stay built-in exceptions: nobody should catch them by this tree.
"""


class DrainscaleError(Exception):
    """Base of all; ``str()`` is one clear line for the person at the bench."""


class InputError(DrainscaleError, ValueError):
    """A file or value handed in is wrong: names what and where."""


class RecordingError(InputError):
    """A recording is broken in a place where it must not be: names file and line."""


class JobError(InputError):
    """A job file is wrong: names file, key, value and what is allowed."""


class BenchFileError(InputError):
    """A bench file (or an order for it) is wrong: names file, key, value and what is allowed."""


class ServerFileError(InputError):
    """A server file is wrong, or asks for what is unsafe: names file, key, value and what helps."""


class MessageError(InputError):
    """A message is not one of ours, or of a newer format: names the topic and what is wrong."""


class QuantityError(DrainscaleError, ValueError):
    """A number lies outside the range that a formula is made for."""


class ProcedureError(DrainscaleError):
    """An event that is not in the procedure's table for the present step."""


class SensorError(DrainscaleError):
    """A sensor, lamp or switch cannot be used: names which, why and what to look at."""


class SensorMissingError(SensorError):
    """The device is not there: not wired, not switched on in the system, or gone."""


class SensorRefusedError(SensorError):
    """The device is there, but this way of reading it would give wrong values."""


class FrameError(SensorError, ValueError):
    """What a converter sent is electrically invalid; the frame is dropped."""


class SpoolError(DrainscaleError):
    """The spool cannot be used: no such folder, no room, locked, or of a newer version."""


class ServerError(DrainscaleError):
    """The server cannot start or go on: a port or its data folder in use, a file not readable."""


class StoreError(DrainscaleError):
    """The server's store cannot be used, or cannot keep what was asked: names the file and why."""

"""Every error that drainscale raises on purpose, by whose fault it is.

    DrainscaleError
    ├── InputError           a file or value that somebody handed in is wrong
    │   ├── RecordingError   (also a ValueError)
    │   └── JobError         (also a ValueError)
    ├── QuantityError        a number outside what the formula is made for (also a ValueError)
    └── ProcedureError       an event that the procedure's table does not know here

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


class QuantityError(DrainscaleError, ValueError):
    """A number lies outside the range that a formula is made for."""


class ProcedureError(DrainscaleError):
    """An event that is not in the procedure's table for the present step."""
